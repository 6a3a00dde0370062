"""The top of the backswing, by one rule for each view; the rule is stored with the event."""

from __future__ import annotations

import numpy as np

from analysis.body import middle
from analysis.events.crossing import peak
from analysis.signal.smooth import smooth_track
from analysis.tracks import SwingTracks, unwrapped_deg
from analysis.types import EventTime, Floats

# On the rendered bench the hands are highest 24 ms before the shaft reverses, in both views; down-the-line they
# are slowest, height and depth taken together, 28 ms before it (scatter 5 ms, on other builds 9).
HANDS_BEFORE_SHAFT_S = 0.024
SLOWEST_BEFORE_SHAFT_S = 0.028
SMOOTH_HZ = 12.0


def top_event(swing: SwingTracks, impact_s: float) -> EventTime | None:
    """The shaft's reversal.

    Face-on: the shaft's picture direction turns back. Down-the-line: the hands' height and depth reverse, which is
    where the hands are slowest in the picture; the club, which points along the lens, takes no part. Without an
    answer: the hands' height alone.
    """
    frame_s = 1 / swing.fps
    by_hands = _hands_highest(swing, impact_s)
    if swing.face_on:
        turned = _direction_turns(swing, impact_s)
        if turned is not None:
            return EventTime(turned, 0.2 * frame_s, "shaft reverses (face-on)")
    else:
        slowest = _hands_slowest(swing, impact_s)
        if slowest is not None:
            error = max(0.5 * frame_s, 0.009 * swing.stretch)
            return EventTime(slowest, error, "hands' height and depth reverse (down-the-line)")
    if by_hands is None:
        return None
    return EventTime(by_hands, max(1.0 * frame_s, 0.02 * swing.stretch), "hands highest")


def _search(swing: SwingTracks, impact_s: float) -> tuple[float, float]:
    guess = min(swing.guess["top"], impact_s - 0.12 * swing.stretch)
    return guess - 0.3 * swing.stretch, min(guess + 0.25 * swing.stretch, impact_s - 0.1 * swing.stretch)


def _direction_turns(swing: SwingTracks, impact_s: float) -> float | None:
    t_s, deg = unwrapped_deg(swing.club)
    start, end = _search(swing, impact_s)
    near = (t_s > start - 0.1) & (t_s < end + 0.1)
    if near.sum() < 7:
        return None
    smooth = smooth_track(t_s[near], deg[near][:, None], SMOOTH_HZ / swing.stretch)[:, 0]
    return peak(t_s[near], swing.plus_x * smooth, start, end)


def _hands_highest(swing: SwingTracks, impact_s: float) -> float | None:
    pose = swing.pose
    hands = smooth_track(pose.t_s, middle(pose, "wrist"), 10.0 / swing.stretch)
    start, end = _search(swing, impact_s)
    found = peak(pose.t_s, -hands[:, 1], start, end)
    return None if found is None else found + HANDS_BEFORE_SHAFT_S * swing.stretch


def _hands_slowest(swing: SwingTracks, impact_s: float) -> float | None:
    pose = swing.pose
    if pose.t_s.size < 3:
        return None
    hands = smooth_track(pose.t_s, middle(pose, "wrist"), 10.0 / swing.stretch)
    speed2 = np.asarray((np.gradient(hands, pose.t_s, axis=0) ** 2).sum(1), dtype=float)
    start, end = _search(swing, impact_s)
    found = peak(pose.t_s, -speed2, start, end)
    return None if found is None else found + SLOWEST_BEFORE_SHAFT_S * swing.stretch


def elevation_deg(start_xy: Floats, end_xy: Floats) -> Floats:
    """Angle (T,) of the line above the horizontal of the picture, -90..90, + = end higher."""
    d = end_xy - start_xy
    return np.asarray(np.degrees(np.arctan2(-d[:, 1], np.abs(d[:, 0]))))
