"""A desk with much to set beside: an earlier swing, the other view, references of other rates, hands and clubs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from analysis.timemap import TimeMap, time_map
from analysis.types import EventTime
from coachhub.swings.models import Swing
from tests import factories
from tests.e2e.clips import give_picture, give_tracks
from tests.e2e.desk_scene import DeskScene, make_desk_scene, readout

# Another tempo than the swing under review: slower back, faster down.
OTHER_TIMES = {
    "address": 0.3,
    "takeaway": 0.5,
    "lead_arm_parallel_back": 1.0,
    "top": 1.5,
    "lead_arm_parallel_down": 1.6,
    "impact": 1.75,
    "finish": 2.3,
}
METRICS = {
    "tempo_ratio": {"value": 3.4, "se": 0.1, "unit": "", "at": ["top", "impact"]},
    "trunk_tilt_impact": {"value": 15.0, "se": 2.0, "unit": "deg", "at": ["impact"]},
    "shaft_lean_impact": {"reason": "60 fps is too slow for shaft lean"},
}
RATES = {"60": {"fps": 60, "count": 150}, "30": {"fps": 30, "count": 80}, "240": {"fps": 240, "count": 600}}
KINDS: dict[str, dict[str, Any]] = {**RATES, "variable": {"variable": True, "count": 110}}


@dataclass(frozen=True)
class Other:
    """One thing to set beside; ``times_us`` are those of its frames."""

    words: str
    swing: Swing
    times_us: list[int]


@dataclass(frozen=True)
class BesideScene:
    desk: DeskScene
    earlier: Other
    references: dict[str, Other]

    @property
    def map(self) -> TimeMap:
        """What the measuring package says of the swing under review and any of the others."""
        return time_map(_events(self.desk.swing), _events(self.earlier.swing))


def make_beside_scene(*kinds: str) -> BesideScene:
    desk = make_desk_scene()
    cohort = desk.review.submission.cohort
    before = factories.make_submission(
        desk.student, cohort, state="answered", range_day=date(2026, 6, 3), club_class="iron"
    )
    earlier = _measured(factories.make_clip(before), "3 June, iron, face-on", **KINDS["60"])
    references = {}
    for kind in kinds:
        title = f"Calm one at {kind}"
        reference = factories.make_reference(
            desk.coach,
            cohort.camp,
            title,
            club_class="driver",
            handedness="left" if kind == "30" else "right",
        )
        clip = factories.make_clip(None, reference=reference)
        references[kind] = _measured(clip, f"{title} (driver, face-on)", **KINDS[kind])
    return BesideScene(desk, earlier, references)


def _measured(clip: Any, words: str, **picture: Any) -> Other:
    times_us = give_picture(clip, **picture)
    data = readout() | {"metrics": METRICS}
    data["events"] = {name: {"t": t, "se": 0.008} for name, t in OTHER_TIMES.items()}
    swing = factories.make_swing(clip, data=data)
    give_tracks(swing, times_us)
    return Other(words, swing, times_us)


def _events(swing: Swing) -> Mapping[str, EventTime]:
    found = swing.readouts.get(is_current=True).data["events"]
    return {name: EventTime(event["t"], event["se"], "scene") for name, event in found.items()}


def frame_at(times_us: list[int], us: float) -> int:
    """The frame on screen at a time; before the first and after the last it is those."""
    return int(np.clip(np.searchsorted(times_us, us, side="right") - 1, 0, len(times_us) - 1))


def nearest_frame(times_us: list[int], us: float) -> int:
    return int(np.argmin(np.abs(np.array(times_us) - us)))
