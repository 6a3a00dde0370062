"""When the club met the ball."""

from __future__ import annotations

import numpy as np

from analysis.body import middle
from analysis.events.crossing import crossing, peak
from analysis.signal.smooth import smooth_track
from analysis.tracks import SwingTracks
from analysis.types import EventTime, Floats

# Rendered bench, 60 fps face-on: the shaft's line meets the ball's place within 0.1 frame of impact.
SHAFT_AT_BALL_SE_FRAMES = 0.12
AGREES_HALF_GAPS = 1.8
# Hands reach their address height again near impact only roughly: within some 40 ms.
HANDS_ONLY_SE_S = 0.04


def impact_event(swing: SwingTracks) -> EventTime | None:
    """Impact from the ball leaving, refined by the shaft's line passing the ball's place.

    The shaft's address direction and the hands' lowest point take no part, so that the lean at impact stays
    free. Without a visible ball the clubhead's address place stands in, with a wide error; the strike
    sound, if heard, is preferred to that.
    """
    frame_s = 1 / swing.fps
    if np.isfinite(swing.ball.gone_s):
        gone, half = swing.ball.gone_s, swing.ball.half_gap_s
        met = _line_meets(swing, swing.ball.xy, gone) if swing.face_on else None
        if met is not None and abs(met - gone) <= AGREES_HALF_GAPS * half:
            return EventTime(met, SHAFT_AT_BALL_SE_FRAMES * frame_s, "shaft line at the ball's place")
        return EventTime(gone, 2 * half / np.sqrt(12) * 1.15, "ball leaves between two frames")
    if swing.strike_s is not None:
        return EventTime(swing.strike_s, 0.015 * swing.stretch, "strike sound")
    place = _head_at_address(swing)
    if place is not None and swing.face_on:
        met = _line_meets(swing, place, swing.guess["impact"])
        if met is not None:
            return EventTime(met, 0.75 * frame_s, "shaft line at the clubhead's address place")
    low = _hands_low(swing)
    return None if low is None else EventTime(low, HANDS_ONLY_SE_S * swing.stretch, "hands low")


def _line_meets(swing: SwingTracks, place: Floats, near_s: float) -> float | None:
    club = swing.club
    reach = 0.1 * swing.stretch
    keep = (club.confidence >= 0.5) & (np.abs(club.t_s - near_s) <= reach)
    if keep.sum() < 2:
        return None
    toward = place - club.grip_xy[keep]
    miss = club.deg[keep] - np.degrees(np.arctan2(toward[:, 1], toward[:, 0]))
    miss = (miss + 180) % 360 - 180
    miss = np.where(np.abs(miss) < 100, miss, np.nan)
    return crossing(club.t_s[keep], miss, near_s, near_s - reach, near_s + reach)


def _head_at_address(swing: SwingTracks) -> Floats | None:
    club = swing.club
    keep = (club.t_s <= swing.guess["takeaway"]) & (club.confidence >= 0.7)
    return np.median(club.head_xy[keep], axis=0) if keep.sum() >= 2 else None


def _hands_low(swing: SwingTracks) -> float | None:
    pose = swing.pose
    hands = smooth_track(pose.t_s, middle(pose, "wrist"), 12.0)
    near = swing.guess["impact"]
    return peak(pose.t_s, hands[:, 1], near - 0.15 * swing.stretch, near + 0.12 * swing.stretch)
