"""The top of the backswing, by one rule for each view; the rule is stored with the event."""

from __future__ import annotations

import numpy as np

from analysis.body import middle
from analysis.events.crossing import peak
from analysis.signal.smooth import smooth_track
from analysis.tracks import SwingTracks, unwrapped_deg
from analysis.types import EventTime, Floats

# On the rendered bench (51 clips down-the-line) the hands are highest 22 ms before the shaft reverses; they are
# slowest, height and depth taken together, 26 ms before it, and pass .3 statures a second 2 ms behind it. Each is off
# by 40 ms and more in some clips, where a pose jumps, but hardly ever two of them in one: the median scatters by 6 ms,
# but for one clip in which no two agree.
HANDS_BEFORE_SHAFT_S = 0.022
SLOWEST_BEFORE_SHAFT_S = 0.026
QUICK_STATURES_PER_S, QUICK_BEHIND_SHAFT_S = 0.3, 0.002
# Face-on the shaft's own reversal scatters by this much (rendered swings).
REVERSES_SE_FRAMES = 0.3
DISAGREE_SHARE = 0.6
SMOOTH_HZ, SLOWEST_HZ, QUICK_HZ = 12.0, 7.0, 10.0


def top_event(swing: SwingTracks, impact_s: float) -> EventTime | None:
    """The shaft's reversal.

    Face-on: the shaft's picture direction turns back. Down-the-line: the hands' height and depth reverse; the club,
    which points along the lens, takes no part. Without an answer: the hands' height alone.
    """
    frame_s = 1 / swing.fps
    by_hands = _hands_highest(swing, impact_s)
    if swing.face_on:
        turned = _direction_turns(swing, impact_s)
        if turned is not None:
            return EventTime(turned, REVERSES_SE_FRAMES * frame_s, "shaft reverses (face-on)")
    else:
        told = [by_hands, _hands_slowest(swing, impact_s), _hands_grow_quick(swing, impact_s)]
        known = sorted(t_s for t_s in told if t_s is not None)
        if len(known) >= 2:
            # Where no two agree, any of them may be the wrong one.
            apart = float(np.diff(known).min())
            error = max(0.5 * frame_s, 0.009 * swing.stretch, DISAGREE_SHARE * apart)
            return EventTime(
                float(np.median(known)), error, "hands' height and depth reverse (down-the-line)"
            )
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
    """Where height and depth of the hands reverse: they are slowest there."""
    if swing.pose.t_s.size < 3:
        return None
    start, end = _search(swing, impact_s)
    slowest = peak(swing.pose.t_s, -_hand_speed(swing, SLOWEST_HZ), start, end)
    return None if slowest is None else slowest + SLOWEST_BEFORE_SHAFT_S * swing.stretch


def _hand_speed(swing: SwingTracks, hz: float) -> Floats:
    """Speed (T,) of the hands in the picture, statures a second of real time."""
    pose = swing.pose
    hands = smooth_track(pose.t_s, middle(pose, "wrist"), hz / swing.stretch)
    speed = np.hypot(*np.gradient(hands, pose.t_s, axis=0).T)
    return np.asarray(speed * swing.stretch / swing.stature_px, dtype=float)


def _hands_grow_quick(swing: SwingTracks, impact_s: float) -> float | None:
    """When the hands were last slow on their way down, less how far that is behind the shaft's reversal."""
    if swing.pose.t_s.size < 3:
        return None
    start_s, end_s = _search(swing, impact_s)[0], impact_s - 0.05 * swing.stretch
    t_s, speed = swing.pose.t_s, _hand_speed(swing, QUICK_HZ)
    slow = np.flatnonzero((t_s > start_s) & (t_s <= end_s) & (speed < QUICK_STATURES_PER_S))
    if not slow.size or slow[-1] + 1 >= t_s.size or not speed[slow[-1] + 1] >= QUICK_STATURES_PER_S:
        return None
    k = int(slow[-1])
    share = (QUICK_STATURES_PER_S - speed[k]) / (speed[k + 1] - speed[k])
    return float(t_s[k] + share * (t_s[k + 1] - t_s[k])) - QUICK_BEHIND_SHAFT_S * swing.stretch


def elevation_deg(start_xy: Floats, end_xy: Floats) -> Floats:
    """Angle (T,) of the line above the horizontal of the picture, -90..90, + = end higher."""
    d = end_xy - start_xy
    return np.asarray(np.degrees(np.arctan2(-d[:, 1], np.abs(d[:, 0]))))
