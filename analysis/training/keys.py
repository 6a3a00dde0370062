"""Key values of a swing: what each of its thirty tracks is worth at which time.

The numbers are drawn by eye and checked by the swing's own figures (an upright, plausible swing whose faults
show); they are no measurement of golfers. Angles in degrees, lengths in metres.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from typing import Any

import numpy as np

from analysis.training.body import ASSETS
from analysis.training.parameters import Clock, SwingParameters

Keys = dict[str, list[tuple[float, float]]]

# Spread of drawn swings at jitter 1: factor on the whole track, and shift of single keys.
_SCALE = {
    "hinge": 0.175,
    "arm_angle": 0.0875,
    "pelvis_yaw": 0.1875,
    "thorax_yaw": 0.125,
    "palm_roll": 0.1875,
    "arm_plane": 0.0625,
    "club_plane": 0.075,
}
_SHIFT = {
    "hinge": 7.5,
    "arm_angle": 5.0,
    "arm_plane": 5.0,
    "club_plane": 6.25,
    "palm_roll": 10.0,
    "thorax_lateral": 3.75,
    "thorax_tilt": 3.75,
    "lead_protraction": 7.5,
    "trail_protraction": 7.5,
    "head_yaw": 10.0,
    "head_tilt": 7.5,
    "pelvis_x": 0.019,
    "pelvis_y": 0.019,
}


def swing_keys(p: SwingParameters) -> Keys:
    """Keys ``(time, value)`` of every track, in order of time, with the jitter of ``p`` applied.

    ``assets/keys.json`` holds each key's place in the swing, its value in a clean swing with an iron, and what each
    fault at full amount and each property of the club changes; ``scaled`` values grow with the turn scale.
    """
    clock, amounts = Clock.of(p), _amounts(p)
    keys: Keys = {}
    for name, rows in _stored().items():
        keys[name] = [(_time(clock, row["at"]), _value(row, amounts, p.turn_scale)) for row in rows]
    return _jittered(keys, p) if p.jitter > 0 else keys


@cache
def _stored() -> dict[str, list[dict[str, Any]]]:
    stored: dict[str, list[dict[str, Any]]] = json.loads((ASSETS / "keys.json").read_text(encoding="utf-8"))
    return stored


def _amounts(p: SwingParameters) -> dict[str, float]:
    """What the stored changes are multiplied by."""
    club = p.shape
    return asdict(p.faults) | {
        "plane_change": club.plane_change,
        "arm_plane_change": club.arm_plane_change,
        "hands_change": club.hands_change,
        "hands_change_size": abs(club.hands_change),
        "teed": float(club.teed),
    }


def _time(clock: Clock, place: str) -> float:
    """Seconds of ``start``, ``address``, ``top``, ``impact``, ``finish``, ``end``, or a share of a phase."""
    phase, _, share = place.partition(" ")
    if share:
        return float(getattr(clock, phase)(float(share)))
    return 0.0 if phase == "start" else float(getattr(clock, phase))


def _value(row: dict[str, Any], amounts: dict[str, float], turn_scale: float) -> float:
    changed = row["value"] + sum(by * amounts[name] for name, by in row.get("changes", {}).items())
    return float(changed * turn_scale if row.get("scaled") else changed)


def _jittered(keys: Keys, p: SwingParameters) -> Keys:
    draw = np.random.default_rng(p.seed + 991)
    out: Keys = {}
    for name, track in keys.items():
        factor = 1 + p.jitter * _SCALE.get(name, 0.0) * draw.normal()
        wide = p.jitter * _SHIFT.get(name, 0.0)
        whole = 0.8 * wide * draw.normal()
        out[name] = [
            (t, v * factor + whole + wide * draw.normal() * (0.6 if t > p.address_s else 0.0))
            for t, v in track
        ]
    out["finish_blend"] = [(t, min(1.0, max(0.0, v))) for t, v in out["finish_blend"]]
    out["arm_reach"] = [(t, min(0.99, v)) for t, v in out["arm_reach"]]
    return out
