"""A coach's word on where a joint is, worked into the track."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from analysis.events import detect_events
from analysis.readout import overlay
from analysis.tracks import SwingTracks
from analysis.types import JOINT_INDEX, JOINTS, EventTime, Floats

# A misplaced joint is misplaced for some frames: the shift fades over this time to either side, and goes over from
# one correction to the next where they are no further apart than this. Common practice, no study.
FADE_S = 0.05
JOIN_S = 0.3
# Between two corrections the place is a good guess, at a correction it is known.
BETWEEN_CONFIDENCE = 0.6
SAME_TIME_S = 1e-6


@dataclass(frozen=True, slots=True)
class JointFix:
    """Where a joint is in one frame.

    Attributes
    ----------
    joint : str
        One of ``types.JOINTS``.
    t_s : float
        Time of the frame, seconds of the clip.
    xy : tuple of float
        Shares of the picture's width and height, 0..1.
    """

    joint: str
    t_s: float
    xy: tuple[float, float]

    def __post_init__(self) -> None:
        if self.joint not in JOINT_INDEX:
            raise ValueError(f"joint must be one of {JOINTS}, got {self.joint!r}")
        if not all(0 <= share <= 1 for share in self.xy):
            raise ValueError(f"xy must lie in 0..1, got {self.xy}")


def with_corrected_joints(tracks: SwingTracks, fixes: Sequence[JointFix]) -> SwingTracks:
    """The swing with joints where a coach put them.

    Parameters
    ----------
    tracks : SwingTracks
    fixes : sequence of JointFix
        Each at a frame of the pose track; the last one of a joint and frame holds.

    Returns
    -------
    SwingTracks
        A copy. At a corrected frame the joint is exactly there, with confidence 1; frames around it shift along.

    Raises
    ------
    ValueError
        If there is no frame at that time.
    """
    pose = tracks.pose
    xy, confidence = pose.xy.copy(), pose.confidence.copy()
    by_hand = dict(tracks.by_hand)
    for joint in dict.fromkeys(fix.joint for fix in fixes):
        j = JOINT_INDEX[joint]
        known = _places(tracks, [fix for fix in fixes if fix.joint == joint])
        shift, weight = _shifts(tracks, xy[:, j], known)
        by_hand[joint] = weight.copy()
        xy[:, j] = np.where(weight[:, None] > 0, xy[:, j] + shift, xy[:, j])
        between = np.where(weight >= 1, BETWEEN_CONFIDENCE, 0.0)
        confidence[:, j] = np.maximum(confidence[:, j], np.where(np.isfinite(xy[:, j, 0]), between, 0.0))
        for row, place in known.items():
            xy[row, j], confidence[row, j] = place, 1.0
            by_hand[joint][row] = 1.0
    return replace(tracks, pose=replace(pose, xy=xy, confidence=confidence), by_hand=by_hand)


def events_after(
    before: SwingTracks, after: SwingTracks, measured: Mapping[str, EventTime]
) -> dict[str, EventTime]:
    """Events of the corrected track; those that the correction doesn't touch stay as they were measured.

    Parameters
    ----------
    before, after : SwingTracks
        The stored track, and the same one corrected.
    measured : mapping of str to EventTime
        As stored, perhaps by an older version.

    Returns
    -------
    dict of str to EventTime
        The measured ones where the corrected track has no top or no impact any more.
    """
    old, new = detect_events(before), detect_events(after)
    if "top" not in new or "impact" not in new:
        return dict(measured)
    kept = {name: event for name, event in measured.items() if _same(old.get(name), new.get(name))}
    moved = {name: event for name, event in new.items() if not _same(old.get(name), event)}
    return kept | moved


def changed_rows(before: SwingTracks, after: SwingTracks) -> dict[str, list[list[Any]]]:
    """What differs in the overlay.

    Parameters
    ----------
    before, after : SwingTracks

    Returns
    -------
    dict of str to list
        Joint to ``[row, x, y, confidence]``, as rows of ``readout.overlay``.
    """
    old, new = overlay(before)["joints"], overlay(after)["joints"]
    rows = {
        name: [[i, *row] for i, row in enumerate(new[name]) if row is not None and row != old[name][i]]
        for name in JOINTS
    }
    return {name: found for name, found in rows.items() if found}


def _same(one: EventTime | None, other: EventTime | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one.t_s - other.t_s) <= SAME_TIME_S


def _places(tracks: SwingTracks, fixes: Sequence[JointFix]) -> dict[int, Floats]:
    """Row of the track to pixels."""
    pose = tracks.pose
    size = np.array([pose.width, pose.height], float)
    near = 0.75 * float(np.median(np.diff(pose.t_s))) if len(pose.t_s) > 1 else 0.02
    places = {}
    for fix in fixes:
        row = int(np.argmin(np.abs(pose.t_s - fix.t_s)))
        if abs(float(pose.t_s[row]) - fix.t_s) > near:
            start, end = float(pose.t_s[0]), float(pose.t_s[-1])
            raise ValueError(
                f"t_s must be a frame of the swing in {start:.3f}..{end:.3f} s, got {fix.t_s:.3f} s"
            )
        places[row] = np.array(fix.xy) * size
    return dict(sorted(places.items()))


def _shifts(tracks: SwingTracks, seen: Floats, known: Mapping[int, Floats]) -> tuple[Floats, Floats]:
    """Shift (T, 2) in pixels and its weight (T,): 1 at and between corrections, falling to 0 beside them."""
    t_s = tracks.pose.t_s
    rows = [row for row in known if np.isfinite(seen[row]).all()]
    shift, weight = np.zeros_like(seen), np.zeros(len(t_s))
    if not rows:
        return shift, weight
    at = t_s[rows]
    offsets = np.array([known[row] - seen[row] for row in rows])
    away = np.abs(t_s[:, None] - at[None, :]).min(axis=1)
    weight = np.clip(1 - away / (FADE_S * tracks.stretch), 0, 1)
    for left, right in pairwise(at):
        if right - left <= JOIN_S * tracks.stretch:
            weight[(t_s >= left) & (t_s <= right)] = 1.0
    nearest = np.abs(t_s[:, None] - at[None, :]).argmin(axis=1)
    straight = np.stack([np.interp(t_s, at, offsets[:, k]) for k in range(2)], axis=1)
    shift = np.where((weight >= 1)[:, None], straight, weight[:, None] * offsets[nearest])
    return shift, weight
