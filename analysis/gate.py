"""What the coarse pass lets through: slow motion, missing ends, people in the picture, and what follows from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from analysis.body import part_of
from analysis.quality import SLOW_FPS, Look, look_problems, problem, reaches_edge
from analysis.scout import SwingWindow, find_swings, hand_travel
from analysis.types import EventTime, Problem

# Hands of someone who only stands move less than this from their middle place, torso lengths.
STANDING_TRAVEL = 0.35
LEAST_SLOW_MOTION = 1.5
BEFORE_TOP = ("address", "takeaway")
# From the top to impact in seconds of the swing: professionals 0.22..0.33 (Grober and Cholewicki 2006), wide enough
# for slow and hasty ones. A file whose word makes a swing of another pace is not believed.
BELIEVED_DOWN_S = (0.15, 0.6)


def slow_motion(nominal_fps: float, capture_fps: float | None) -> float | None:
    """How many times slower than life a clip plays by its own word; None if it doesn't say so."""
    ratio = (capture_fps or 0.0) / nominal_fps if nominal_fps > 0 else 0.0
    return ratio if ratio >= LEAST_SLOW_MOTION else None


def find_windows(
    look: Look, nominal_fps: float, capture_fps: float | None
) -> tuple[list[Problem], tuple[SwingWindow, ...]]:
    """Problems of a clip and its swings; no swing when a problem forbids to go on.

    Parameters
    ----------
    look : Look
        The coarse pass.
    nominal_fps : float
        Frames a second of the file.
    capture_fps : float or None
        Frames a second the camera filmed at, if the file says so.

    Returns
    -------
    problems : list of Problem
    windows : tuple of SwingWindow
    """
    slower = slow_motion(nominal_fps, capture_fps)
    problems = look_problems(look, nominal_fps * (slower or 1.0))
    if any(p.fatal for p in problems):
        return problems, ()
    windows = tuple(_timed(w, slower) for w in find_swings(look.pose, slower))
    if not windows:
        still = hand_travel(look.pose) < STANDING_TRAVEL
        return [problem("only_standing" if still else "no_swing"), *problems], ()
    if nominal_fps * min(w.stretch for w in windows) >= SLOW_FPS:
        problems = [p for p in problems if p.code != "too_slow_fps"]
    if len(windows) > 1:
        problems.append(problem("several_swings"))
    return problems, windows


def _timed(window: SwingWindow, slower: float | None) -> SwingWindow:
    """The window with the mark that its stretch is known, where the file said it and the pace bears it out."""
    down_s = (window.impact_s - window.top_s) / window.stretch
    low, high = BELIEVED_DOWN_S
    return replace(window, is_timed=slower is not None and low <= down_s <= high)


def window_problems(look: Look, window: SwingWindow) -> list[Problem]:
    """What limits one swing as far as the coarse pass shows it; none is fatal."""
    codes = []
    if window.stretch >= LEAST_SLOW_MOTION:
        codes.append("slow_motion_timed" if window.is_timed else "slow_motion")
    if window.starts_late:
        codes.append("starts_late")
    if window.ends_early:
        codes.append("ends_early")
    if reaches_edge(part_of(look.pose, window.start_s, window.end_s)):
        codes.append("edge_of_picture")
    return [problem(code) for code in codes]


def seen_events(events: Mapping[str, EventTime], window: SwingWindow) -> dict[str, EventTime]:
    """The events without those that lie before a late start or after an early end."""
    unseen = set(BEFORE_TOP) if window.starts_late else set()
    if window.ends_early:
        unseen.add("finish")
    return {name: event for name, event in events.items() if name not in unseen}


def people_json(look: Look) -> dict[str, Any]:
    """Who is in the picture, for drawing over it.

    Returns
    -------
    dict
        ``boxes`` N entries ``[x0, y0, x1, y1]`` in 0..1 of the upright frame, ``golfer`` the number (from 0) of
        the one measured, None when nobody was told apart.
    """
    width, height = look.pose.width, look.pose.height
    boxes = [
        [round(x0 / width, 4), round(y0 / height, 4), round(x1 / width, 4), round(y1 / height, 4)]
        for x0, y0, x1, y1 in look.people
    ]
    return {"boxes": boxes, "golfer": look.golfer if boxes else None}
