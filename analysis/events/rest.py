"""Where the motion begins and where it ends: takeaway, address, finish."""

from __future__ import annotations

import numpy as np

from analysis.body import middle
from analysis.events.crossing import onset
from analysis.tracks import SwingTracks, unwrapped_deg
from analysis.types import EventTime, Floats

TURN_LIMIT_DEG = 16.0
HEAD_LIMIT_HEIGHTS = 0.03
HANDS_LIMIT_HEIGHTS = 0.06


def takeaway_event(swing: SwingTracks, top_s: float) -> EventTime | None:
    """First motion of the club away from the ball.

    Face-on by the shaft's direction, down-the-line by the clubhead's place (the club swings toward the
    camera there, its direction hardly changes), without a club by the hands, later and less surely.
    """
    frame_s = 1 / swing.fps
    start = swing.guess["takeaway"]
    if swing.face_on:
        found = _start_of(*_turned(swing, start, top_s), TURN_LIMIT_DEG)
    else:
        found = _start_of(*_head_moved(swing, start, top_s), HEAD_LIMIT_HEIGHTS)
    if found is not None:
        return EventTime(found, 0.9 * frame_s, "club leaves its resting place")
    found = _start_of(*_hands_moved(swing, start, top_s), HANDS_LIMIT_HEIGHTS)
    if found is None:
        return None
    return EventTime(found, 0.05 * swing.stretch, "hands leave their resting place")


def _start_of(t_s: Floats, moved: Floats, limit: float) -> float | None:
    return onset(t_s, moved, limit) if t_s.size > 5 else None


def _resting(t_s: Floats, start_s: float, stretch: float) -> np.ndarray:
    rest = (t_s <= start_s) & (t_s >= start_s - 0.4 * stretch)
    if rest.sum() < 3:
        rest = np.zeros(len(t_s), bool)
        rest[: min(3, len(t_s))] = True
    return np.asarray(rest)


def _turned(swing: SwingTracks, start_s: float, top_s: float) -> tuple[Floats, Floats]:
    t_s, deg = unwrapped_deg(swing.club)
    keep = t_s < top_s
    t_s, deg = t_s[keep], deg[keep]
    if t_s.size < 6:
        return t_s, deg
    rest = _resting(t_s, start_s, swing.stretch)
    away = np.clip(swing.plus_x * (deg - np.median(deg[rest])), 0, None)
    noise = float(np.median(np.abs(away[rest])))
    return t_s, np.clip(away - noise, 0, None)


def _moved(t_s: Floats, xy: Floats, rest: np.ndarray, unit_px: float) -> Floats:
    away = np.hypot(*(xy - np.median(xy[rest], axis=0)).T) / unit_px
    return np.clip(away - float(np.median(away[rest])), 0, None)


def _head_moved(swing: SwingTracks, start_s: float, top_s: float) -> tuple[Floats, Floats]:
    club = swing.club
    keep = (club.t_s < top_s) & (club.confidence >= 0.5)
    t_s, head = club.t_s[keep], club.head_xy[keep]
    if t_s.size < 6:
        return t_s, np.zeros(t_s.size)
    return t_s, _moved(t_s, head, _resting(t_s, start_s, swing.stretch), swing.stature_px)


def _hands_moved(swing: SwingTracks, start_s: float, top_s: float) -> tuple[Floats, Floats]:
    pose = swing.pose
    hands = middle(pose, "wrist")
    keep = (pose.t_s < top_s) & np.isfinite(hands).all(1)
    t_s = pose.t_s[keep]
    if t_s.size < 6:
        return t_s, np.zeros(t_s.size)
    return t_s, _moved(t_s, hands[keep], _resting(t_s, start_s, swing.stretch), swing.stature_px)


def address_event(takeaway: EventTime, swing: SwingTracks) -> EventTime:
    """The last still frame: one frame before the takeaway."""
    frame_s = 1 / swing.fps
    return EventTime(
        max(float(swing.pose.t_s[0]), takeaway.t_s - frame_s), takeaway.se_s, "one frame before the takeaway"
    )


def finish_event(swing: SwingTracks, impact_s: float) -> EventTime | None:
    """Where the club, or without it the hands, come to rest after the follow-through.

    The clip run backward starts from rest: the same fit as for the takeaway.
    """
    frame_s = 1 / swing.fps
    club = swing.club
    late = (club.t_s > impact_s + 0.25 * swing.stretch) & (club.confidence >= 0.5)
    found = _end_of(club.t_s[late], club.head_xy[late], 0.1, swing)
    if found is not None:
        return EventTime(found, 2.0 * frame_s, "club comes to rest")
    pose = swing.pose
    hands = middle(pose, "wrist")
    late = (pose.t_s > impact_s + 0.25 * swing.stretch) & np.isfinite(hands).all(1)
    found = _end_of(pose.t_s[late], hands[late], 0.1, swing)
    if found is None:
        return None
    return EventTime(found, 0.08 * swing.stretch, "hands come to rest")


def _end_of(t_s: Floats, xy: Floats, limit: float, swing: SwingTracks) -> float | None:
    if t_s.size < 8:
        return None
    rest = np.zeros(t_s.size, bool)
    rest[-max(3, t_s.size // 8) :] = True
    away = _moved(t_s, xy, rest, swing.stature_px)
    found = onset(-t_s[::-1], away[::-1], limit)
    return None if found is None else -found
