"""The golfer's lines at one instant, ready to be drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.tracks import SwingTracks
from analysis.types import JOINTS, Floats

SEEN = 0.5
# Between poses further apart than this (real time) nothing is drawn rather than a wrong body.
WIDEST_GAP_S = 0.12
_ARM_AND_LEG = (
    ("shoulder", "elbow"),
    ("elbow", "wrist"),
    ("shoulder", "hip"),
    ("hip", "knee"),
    ("knee", "ankle"),
    ("ankle", "foot_index"),
)
_ACROSS = (("left_shoulder", "right_shoulder"), ("left_hip", "right_hip"))

Line = tuple[Floats, Floats]


@dataclass(frozen=True, slots=True)
class Body:
    """Lines in pixels of the upright frame, each a pair of points (2,): lead side, trail side, across, shaft.

    ``names`` are the places of the words "lead" and "trail", by word; ``head`` are points (2,) of the head.
    """

    lead: tuple[Line, ...]
    trail: tuple[Line, ...]
    across: tuple[Line, ...]
    shaft: Line | None
    names: Mapping[str, Floats]
    head: tuple[Floats, ...] = ()


def body_at(tracks: SwingTracks, t_s: float) -> Body:
    """Joints and shaft at a time, between the poses on both sides of it.

    Parameters
    ----------
    tracks : SwingTracks
    t_s : float
        Seconds of the clip.

    Returns
    -------
    Body
        Without the lines whose ends are hidden.
    """
    joints = _joints(tracks, t_s)
    sides = {"lead": tracks.lead, "trail": tracks.trail}
    bones = {
        word: _lines(joints, [(f"{side}_{a}", f"{side}_{b}") for a, b in _ARM_AND_LEG])
        for word, side in sides.items()
    }
    names = {word: joints[f"{side}_knee"] for word, side in sides.items() if f"{side}_knee" in joints}
    head = tuple(joints[name] for name in ("nose", "left_ear", "right_ear") if name in joints)
    shaft = shaft_at(tracks, t_s)
    return Body(bones["lead"], bones["trail"], _lines(joints, _ACROSS), shaft, names, head)


def _lines(joints: Mapping[str, Floats], pairs: Sequence[tuple[str, str]]) -> tuple[Line, ...]:
    return tuple((joints[a], joints[b]) for a, b in pairs if a in joints and b in joints)


def _joints(tracks: SwingTracks, t_s: float) -> dict[str, Floats]:
    pose = tracks.pose
    after = int(np.clip(np.searchsorted(pose.t_s, t_s), 0, len(pose.t_s) - 1))
    before = max(0, after - 1)
    ends = [i for i in (before, after) if abs(pose.t_s[i] - t_s) <= WIDEST_GAP_S * tracks.stretch]
    out: dict[str, Floats] = {}
    for j, name in enumerate(JOINTS):
        seen = [i for i in ends if pose.confidence[i, j] >= SEEN and np.isfinite(pose.xy[i, j]).all()]
        if not seen:
            continue
        a, b = seen[0], seen[-1]
        step = float(pose.t_s[b] - pose.t_s[a])
        share = float(np.clip((t_s - pose.t_s[a]) / step, 0, 1)) if step > 0 else 0.0
        out[name] = (1 - share) * pose.xy[a, j] + share * pose.xy[b, j]
    return out


def shaft_at(tracks: SwingTracks, t_s: float) -> Line | None:
    """Grip and head end of the shaft in the nearest frame it was seen in, at most one frame away."""
    club = tracks.club
    if not club.t_s.size:
        return None
    away = np.where(club.confidence >= SEEN, np.abs(club.t_s - t_s), np.inf)
    i = int(np.argmin(away))
    if not away[i] <= 1.0 / tracks.fps:
        return None
    length = float(np.hypot(*(club.head_xy[i] - club.grip_xy[i])))
    angle = np.radians(club.deg[i])
    return club.grip_xy[i], club.grip_xy[i] + length * np.array([np.cos(angle), np.sin(angle)])
