"""The top of the backswing, by one rule for each view; the rule is stored with the event."""

from __future__ import annotations

import numpy as np

from analysis.body import middle
from analysis.events.crossing import peak
from analysis.signal.smooth import smooth_track
from analysis.tracks import SwingTracks, unwrapped_deg
from analysis.types import EventTime, Floats

# On the rendered bench the hands are highest 24 ms before the shaft reverses, in both views.
HANDS_BEFORE_SHAFT_S = 0.024
SMOOTH_HZ = 12.0


def top_event(swing: SwingTracks, impact_s: float) -> EventTime | None:
    """The shaft's reversal.

    Face-on: the shaft's picture direction turns back. Down-the-line: the picture of the club stands still,
    taken together with the hands' greatest height. Without a club: the hands' height alone.
    """
    frame_s = 1 / swing.fps
    by_hands = _hands_highest(swing, impact_s)
    if swing.face_on:
        turned = _direction_turns(swing, impact_s)
        if turned is not None:
            return EventTime(turned, 0.35 * frame_s, "shaft reverses (face-on)")
    if by_hands is None:
        return None
    still = None if swing.face_on else _club_stands_still(swing, by_hands)
    if still is not None:
        return EventTime(
            (still + by_hands) / 2, 0.9 * frame_s, "club stands still and hands highest (down-the-line)"
        )
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


def _club_stands_still(swing: SwingTracks, near_s: float) -> float | None:
    """Where the projected club vector moves least, within 45 ms of the hands' answer."""
    club = swing.club
    keep = club.confidence >= 0.4
    if keep.sum() < 9:
        return None
    vector = smooth_track(club.t_s[keep], (club.head_xy - club.grip_xy)[keep], SMOOTH_HZ / swing.stretch)
    speed2 = np.asarray((np.gradient(vector, club.t_s[keep], axis=0) ** 2).sum(1), dtype=float)
    reach = 0.045 * swing.stretch
    found = peak(club.t_s[keep], -speed2, near_s - reach, near_s + reach)
    return found if found is not None and abs(found - near_s) < 0.95 * reach else None


def elevation_deg(start_xy: Floats, end_xy: Floats) -> Floats:
    """Angle (T,) of the line above the horizontal of the picture, -90..90, + = end higher."""
    d = end_xy - start_xy
    return np.asarray(np.degrees(np.arctan2(-d[:, 1], np.abs(d[:, 0]))))
