"""When the club met the ball."""

from __future__ import annotations

import numpy as np

from analysis.body import middle
from analysis.events.crossing import crossing, peak
from analysis.signal.smooth import smooth_track
from analysis.tracks import SwingTracks
from analysis.types import EventTime, Floats

# Rendered bench, 60 fps face-on: the shaft's line meets the ball's place within 0.2 frames of impact.
SHAFT_AT_BALL_SE_FRAMES = 0.12
AGREES_HALF_GAPS = 1.8
# How exactly a leaving ball is timed beside the gap between its last frame and the next; down-the-line it flies along
# the lens. On 27 rendered clips with impact anywhere between two frames the middle of the gap leans by 0.02 frames.
LEAVING_SE_DTL_S, LEAVING_SE_S = 0.003, 0.002
# Hands reach their address height again near impact only roughly: within some 40 ms.
HANDS_ONLY_SE_S = 0.04
HEAD_AT_PLACE_SE_FRAMES = 0.75
# Sound takes 2.9 ms a metre; a phone stands 3 to 6 m away (common practice). A phone's sound may run some tens of
# milliseconds beside its picture, so a strike tells which frames to look at, not the time between two of them.
SOUND_TRAVEL_S = 2.9e-3 * 4.0
SOUND_SE_S = 0.015
SOUND_AGREES_S = 0.045


def impact_event(swing: SwingTracks) -> EventTime | None:
    """Impact from the ball leaving, refined by the shaft's line passing the ball's place.

    The shaft's address direction and the hands' lowest point take no part, so that the lean at impact stays
    free. Without a visible ball the clubhead's address place stands in, with a wide error; a strike that was heard
    chooses among its passes, and stands alone where there is none. Hands alone are the last resort.
    """
    if np.isfinite(swing.ball.gone_s):
        return _ball_gone(swing)
    heard = None if swing.strike_s is None else swing.strike_s - SOUND_TRAVEL_S
    place = _head_at_address(swing)
    if place is not None and swing.face_on:
        near = swing.guess["impact"] if heard is None else heard
        met = _line_meets(swing, place, near)
        if met is not None and (heard is None or abs(met - heard) <= SOUND_AGREES_S):
            rule = "shaft line at the clubhead's address place" + ("" if heard is None else ", strike heard")
            return EventTime(met, HEAD_AT_PLACE_SE_FRAMES / swing.fps, rule)
    if heard is not None:
        return EventTime(heard, float(np.hypot(SOUND_SE_S, 0.3 / swing.fps)), "strike sound")
    low = _hands_low(swing)
    return None if low is None else EventTime(low, HANDS_ONLY_SE_S * swing.stretch, "hands low")


def _ball_gone(swing: SwingTracks) -> EventTime:
    gone, half = swing.ball.gone_s, swing.ball.half_gap_s
    met = _line_meets(swing, swing.ball.xy, gone) if swing.face_on else None
    if met is not None and abs(met - gone) <= AGREES_HALF_GAPS * half:
        return EventTime(met, SHAFT_AT_BALL_SE_FRAMES / swing.fps, "shaft line at the ball's place")
    leaving = LEAVING_SE_S if swing.face_on else LEAVING_SE_DTL_S
    error = float(np.hypot(2 * half / np.sqrt(12), leaving * swing.stretch))
    return EventTime(gone, error, "ball leaves between two frames")


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
