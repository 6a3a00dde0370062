"""Whole-body centre of mass in the picture from segment masses.

Centre of mass is not pressure: force plates measure another quantity. For under-fifteens adult tables
misplace mass; show it as a trend only (from memory, verify).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.types import Floats

if TYPE_CHECKING:
    from analysis.metrics.sampler import Sampler


@dataclass(frozen=True, slots=True)
class Segment:
    """Mass share of one segment and where its mass centre lies from the proximal landmark (0..1)."""

    mass: float
    centre: float
    count: int = 2


# De Leva (1996), J Biomech 29:1223-1230: male and female tables, as copied in three machine-readable
# sources. The trunk row is the one for mid-shoulder to mid-hip, which fits pose landmarks.
MALE = {
    "head": Segment(0.0694, 0.5002, 1),
    "trunk": Segment(0.4346, 0.4310, 1),
    "upper_arm": Segment(0.0271, 0.5772),
    "forearm": Segment(0.0162, 0.4574),
    "hand": Segment(0.0061, 0.7900),
    "thigh": Segment(0.1416, 0.4095),
    "shank": Segment(0.0433, 0.4395),
    "foot": Segment(0.0137, 0.4415),
}
FEMALE = {
    "head": Segment(0.0668, 0.4841, 1),
    "trunk": Segment(0.4257, 0.3782, 1),
    "upper_arm": Segment(0.0255, 0.5754),
    "forearm": Segment(0.0138, 0.4559),
    "hand": Segment(0.0056, 0.7474),
    "thigh": Segment(0.1478, 0.3612),
    "shank": Segment(0.0481, 0.4352),
    "foot": Segment(0.0129, 0.4014),
}


def mean_table() -> dict[str, Segment]:
    """The two tables' mean, masses renormalised to one: the golfer's sex is not asked for this."""
    rows = {
        name: ((m.mass + f.mass) / 2, (m.centre + f.centre) / 2, m.count)
        for name, (m, f) in {k: (MALE[k], FEMALE[k]) for k in MALE}.items()
    }
    total = sum(mass * count for mass, _, count in rows.values())
    return {name: Segment(mass / total, centre, count) for name, (mass, centre, count) in rows.items()}


_TABLE = mean_table()
_LIMBS = (
    ("upper_arm", "shoulder", "elbow"),
    ("forearm", "elbow", "wrist"),
    ("thigh", "hip", "knee"),
    ("shank", "knee", "ankle"),
    ("foot", "heel", "foot_index"),
)


def mass_centre(sampler: Sampler, event: str) -> Floats:
    """Draws (S, 2) of the centre of mass in the picture, pixels; the club is left out.

    The head's mass sits at mid-ear (Winter's definition: pose landmarks have no vertex), the hands' at the
    wrists.
    """
    total = _TABLE["head"].mass * sampler.middle("ear", event)
    shoulders, hips = sampler.middle("shoulder", event), sampler.middle("hip", event)
    trunk = _TABLE["trunk"]
    total = total + trunk.mass * (shoulders + trunk.centre * (hips - shoulders))
    for side in ("left", "right"):
        for name, near, far in _LIMBS:
            a, b = sampler.joint(f"{side}_{near}", event), sampler.joint(f"{side}_{far}", event)
            total = total + _TABLE[name].mass * (a + _TABLE[name].centre * (b - a))
        total = total + _TABLE["hand"].mass * sampler.joint(f"{side}_wrist", event)
    return np.asarray(total)
