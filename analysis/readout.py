"""The readout of one swing as plain values for JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.body import part_of
from analysis.club.combine import source_shares
from analysis.metrics import measure
from analysis.signs import find_signs
from analysis.strike import NOT_TOLD, Strike
from analysis.tracks import SwingTracks
from analysis.types import JOINTS, ClubTrack, EventTime, Metric, Problem, Sign
from analysis.version import ANALYSIS_VERSION
from analysis.view import Yaw, camera_yaw

# Said aloud in every readout: one phone can't see these.
NOT_VISIBLE = (
    "pressure under the feet",
    "clubface",
    "wrist condition",
    "low point of the arc",
    "attack angle",
    "curve of the ball",
)
NOT_PRESSURE = "The centre of mass over the feet is not pressure under them."
# A shaft less sure than this is not shown: most directions between 0.5 and this were over 5 degrees off on the bench.
LEAST_SURE = 0.6
UNVALIDATED = (
    "Checked on rendered clips with known truth only: how accurate this is on real footage is not validated."
)


@dataclass(frozen=True, slots=True)
class SwingReadout:
    """One measured swing."""

    number: int
    start_s: float
    end_s: float
    tracks: SwingTracks
    events: Mapping[str, EventTime]
    metrics: Mapping[str, Metric]
    signs: Mapping[str, Sign]
    fps: float
    problems: tuple[Problem, ...] = ()
    strike: Strike = NOT_TOLD

    @property
    def usable(self) -> bool:
        """Whether the swing could be measured."""
        return bool(self.events) and not any(p.fatal for p in self.problems)

    @property
    def view_yaw(self) -> Yaw:
        """How far the camera stands off the view's line, as far as the address shows it."""
        start = float(self.tracks.pose.t_s[0])
        at_address = part_of(self.tracks.pose, start, max(start, self.tracks.guess["takeaway"]))
        return camera_yaw(at_address, self.tracks.view)

    def to_json(self) -> dict[str, Any]:
        """The keys every readout has."""
        return {
            "view": self.tracks.view,
            "handedness": self.tracks.handedness,
            "fps": round(self.fps, 3),
            "stretch": round(self.tracks.stretch, 3),
            "usable": self.usable,
            "problems": [p.to_json() for p in self.problems],
            "strike": self.strike.to_json(),
            "view_yaw": self.view_yaw.to_json(),
            "events": {
                name: {"t": round(e.t_s, 4), "se": round(e.se_s, 4)} for name, e in self.events.items()
            },
            "shaft": shaft_rows(self.tracks),
            "club_source": {k: round(v, 3) for k, v in source_shares(self.tracks.club).items()},
            "metrics": {name: metric.to_json() for name, metric in self.metrics.items()},
            "signs": {key: sign.to_json() for key, sign in self.signs.items()},
            **said_aloud(),
            "version": ANALYSIS_VERSION,
        }


def said_aloud() -> dict[str, list[str]]:
    """What every readout says of its own limits: ``not_visible`` names, ``limits`` sentences."""
    return {"not_visible": list(NOT_VISIBLE), "limits": [NOT_PRESSURE, UNVALIDATED]}


def read_swing(
    tracks: SwingTracks,
    events: Mapping[str, EventTime],
    *,
    number: int,
    start_s: float,
    end_s: float,
    fps: float,
    problems: tuple[Problem, ...] = (),
) -> SwingReadout:
    """Metrics and signs of one swing from its tracks and events."""
    metrics = measure(tracks, dict(events))
    signs = find_signs(metrics, events, tracks.view, fps=fps * tracks.stretch)
    return SwingReadout(number, start_s, end_s, tracks, events, metrics, signs, fps, problems)


def shaft_rows(tracks: SwingTracks) -> list[dict[str, float]]:
    """Each answered frame of the shaft: time, direction grip to head (atan2, y down), confidence."""
    club = tracks.club
    keep = np.flatnonzero((club.confidence >= LEAST_SURE) & np.isfinite(club.deg))
    return [
        {
            "t": round(float(club.t_s[i]), 4),
            "deg": round(float(club.deg[i]), 2),
            "confidence": round(float(club.confidence[i]), 3),
        }
        for i in keep
    ]


def overlay(tracks: SwingTracks) -> dict[str, Any]:
    """Joints and shaft for drawing over the picture, in 0..1 of the upright frame.

    Returns
    -------
    dict
        ``t_us`` (T,) microseconds; ``joints`` name to T entries ``[x, y, confidence]`` or None; ``shaft``
        T entries ``[x0, y0, x1, y1, confidence]`` or None. The times are the pose's.
    """
    pose = tracks.pose
    size = np.array([pose.width, pose.height], float)
    joints: dict[str, list[list[float] | None]] = {}
    for j, name in enumerate(JOINTS):
        rows = np.concatenate([pose.xy[:, j] / size, pose.confidence[:, j : j + 1]], axis=1)
        joints[name] = [[round(float(v), 4) for v in row] if np.isfinite(row).all() else None for row in rows]
    return {
        "t_us": [round(float(t) * 1e6) for t in pose.t_s],
        "joints": joints,
        "shaft": _overlay_shaft(tracks, size),
    }


def _overlay_shaft(tracks: SwingTracks, size: np.ndarray) -> list[list[float] | None]:
    club, pose = tracks.club, tracks.pose
    out: list[list[float] | None] = []
    for t in pose.t_s:
        i = int(np.argmin(np.abs(club.t_s - t))) if club.t_s.size else -1
        if i < 0 or abs(club.t_s[i] - t) > 0.6 / tracks.fps or club.confidence[i] < LEAST_SURE:
            out.append(None)
            continue
        length = float(np.hypot(*(club.head_xy[i] - club.grip_xy[i])))
        unit = np.array([np.cos(np.radians(club.deg[i])), np.sin(np.radians(club.deg[i]))])
        ends = np.concatenate([club.grip_xy[i] / size, (club.grip_xy[i] + length * unit) / size])
        out.append([*(round(float(v), 4) for v in ends), round(float(club.confidence[i]), 3)])
    return out


def empty_readout(fps: float, problems: tuple[Problem, ...]) -> dict[str, Any]:
    """The readout of a clip without a measurable swing: all keys, nothing in them."""
    return {
        "view": None,
        "handedness": None,
        "fps": round(fps, 3),
        "stretch": 1.0,
        "usable": False,
        "problems": [p.to_json() for p in problems],
        "strike": NOT_TOLD.to_json(),
        "view_yaw": {"reason": "no swing was measured"},
        "events": {},
        "shaft": [],
        "club_source": source_shares(ClubTrack.empty()),
        "metrics": {},
        "signs": {},
        **said_aloud(),
        "version": ANALYSIS_VERSION,
    }
