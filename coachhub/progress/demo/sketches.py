"""Turn "the angle at the lead wrist when the lead arm is level" into a drawing on the measured points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import numpy as np

Point = list[float]
Data = Mapping[str, Any]
# A drawing fits the picture of its event; a few frames later the body is elsewhere.
SHOWN_US = 70_000
# Of the picture's width; an ellipse is given by two corners of its box.
RADIUS = 0.07
MIDDLES = {"mid_hip": ("lead_hip", "trail_hip"), "mid_shoulder": ("lead_shoulder", "trail_shoulder")}


@dataclass(frozen=True)
class Measured:
    """What one swing's drawings can hang on: its events in seconds, its points in shares of the picture."""

    swing_id: UUID
    events: Mapping[str, float]
    t_us: Sequence[int]
    joints: Mapping[str, Sequence[Sequence[float] | None]]
    shaft: Sequence[Sequence[float] | None]
    aspect: float = 9 / 16

    def frame(self, event: str) -> int | None:
        if event not in self.events or not len(self.t_us):
            return None
        return int(np.argmin(np.abs(np.asarray(self.t_us) - self.events[event] * 1e6)))

    def point(self, name: str, frame: int) -> Point | None:
        if name in MIDDLES:
            ends = [self.point(end, frame) for end in MIDDLES[name]]
            return None if None in ends else [float(v) for v in np.mean(np.array(ends), axis=0)]
        if name in ("club_grip", "club_head"):
            club = self.shaft[frame] if frame < len(self.shaft) else None
            return _inside(club[:2] if name == "club_grip" else club[2:4]) if club else None
        seen = self.joints.get(name)
        at = seen[frame] if seen and frame < len(seen) else None
        return _inside(at[:2]) if at else None


def _inside(point: Sequence[float]) -> Point | None:
    x, y = float(point[0]), float(point[1])
    return [x, y] if 0 <= x <= 1 and 0 <= y <= 1 else None


def sketch(wanted: Data, measured: Measured, uid: UUID) -> dict[str, Any] | None:
    """The mark, or None where the event or a point was not measured: nothing is drawn on a guess."""
    frame = measured.frame(wanted["event"])
    if frame is None:
        return None
    points = _points(wanted, measured, frame)
    if points is None:
        return None
    at_us = int(measured.t_us[frame])
    until = measured.events.get(wanted.get("until", ""))
    return {
        "uid": str(uid),
        "swing": str(measured.swing_id),
        "kind": wanted["kind"],
        "points": points,
        "from_us": at_us,
        "to_us": int(until * 1e6) if until is not None else at_us + SHOWN_US,
        "label": wanted["label"],
        "note": wanted["note"],
    }


def _points(wanted: Data, measured: Measured, frame: int) -> list[Point] | None:
    if "around" in wanted:
        centre = measured.point(wanted["around"], frame)
        return None if centre is None else _box(centre, measured.aspect)
    found = [measured.point(name, frame) for name in wanted["points"]]
    return None if None in found else [point for point in found if point is not None]


def _box(centre: Point, aspect: float) -> list[Point]:
    x, y = centre
    down = RADIUS * aspect
    corners = ([x - RADIUS, y - down], [x + RADIUS, y + down])
    return [[min(1.0, max(0.0, value)) for value in corner] for corner in corners]


def moment(wanted: Data, measured: Measured, uid: UUID) -> dict[str, Any] | None:
    frame = measured.frame(wanted["event"])
    if frame is None:
        return None
    return {
        "uid": str(uid),
        "swing": str(measured.swing_id),
        "at_us": int(measured.t_us[frame]),
        "note": wanted["note"],
    }
