"""True figures of a pose in space, for the truth file; ``MEANING`` defines each with unit and sign."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.training.body import Body
from analysis.training.events import Motion
from analysis.training.pose import Pose
from analysis.training.rotations import angle_deg
from analysis.training.swing import Swing, shaft_lean_deg
from analysis.types import Floats

MEANING = {
    "thorax_turn": "deg, - = away from the target",
    "pelvis_turn": "deg, - = away from the target",
    "spine_lateral": "deg, mid pelvis to neck base in the x-z plane, - = leans away from the target",
    "spine_forward": "deg, the same line in the y-z plane, + = bent toward the ball",
    "wrist_angle": "deg, lead forearm to shaft in space, 180 = in line",
    "lead_elbow": "deg, 180 = straight",
    "shaft_inclination": "deg below horizontal of the butt-to-head line, + = head lower",
    "shaft_plane_dtl": "deg, shaft against the ground in the y-z plane, 0..90, 90 = upright",
    "trail_heel_height": "m, trail ankle centre above the ground",
    "clubhead_height": "m",
    "lead_arm_angle": "deg, lead shoulder to wrist from straight down in x-z, + = hand away from the target",
    "pelvis_shift_x": "m, mid-hip from the address event, + = toward the target",
    "pelvis_shift_y": "m, mid-hip from the address event, + = toward the ball",
    "head_shift_x": "m, skull base from the address event, + = toward the target",
    "shaft_lean": "deg from vertical in x-z, + = hands nearer the target than the head",
    "hand_path_out": "m, grip against the backswing path at equal height, + = nearer the ball; null elsewhere",
    "com_x": "m, mass centre from mid-stance, + = toward the target (10 segments, rough mass shares)",
}
# Bone at the start and end of a segment, share of the body's mass (both sides get one where paired).
_SEGMENTS = (
    ("spine01", "root", 0.435),
    ("head", "head", 0.081),
    ("upperarm01", "lowerarm01", 0.028),
    ("lowerarm01", "wrist", 0.022),
    ("upperleg01", "lowerleg01", 0.100),
    ("lowerleg01", "foot", 0.061),
)


@dataclass(frozen=True, slots=True)
class AddressReference:
    """Places at the address event, and the hands' way back as heights and y (rising part)."""

    hip: Floats
    head: Floats
    path_height: Floats
    path_y: Floats
    top_s: float
    impact_s: float


def address_reference(swing: Swing, motion: Motion, events: dict[str, float | None]) -> AddressReference:
    """What later figures are measured from."""
    address, top, impact = (events[name] or 0.0 for name in ("address", "top", "impact"))
    pose, index = swing.pose_at(address, False), swing.body.index
    way = motion.grip[(motion.t_s >= address) & (motion.t_s <= top)]
    highest = np.maximum.accumulate(way[:, 2])
    rising = np.concatenate([[True], way[1:, 2] > highest[:-1]])
    return AddressReference(
        mid_hip(swing.body, pose),
        pose.places[index["head"]].copy(),
        way[rising, 2],
        way[rising, 1],
        top,
        impact,
    )


def mid_hip(body: Body, pose: Pose) -> Floats:
    """Point between the hip joints (3,)."""
    left, right = (pose.places[body.index[f"upperleg01.{s}"]] for s in "LR")
    return np.asarray((left + right) / 2)


def mass_centre(body: Body, pose: Pose) -> Floats:
    """Centre of mass (3,), rough."""
    total, mass = np.zeros(3), 0.0
    for start, end, share in _SEGMENTS:
        paired = start not in body.index
        for side in (".L", ".R") if paired else ("",):
            a, b = (pose.places[body.index[name + side]] for name in (start, end))
            along = 0.43 if paired else 0.5
            total, mass = total + share * (a * (1 - along) + b * along), mass + share
    return np.asarray(total / mass)


def figures(swing: Swing, pose: Pose, reference: AddressReference, t_s: float) -> dict[str, float | None]:
    """All figures of ``MEANING`` at one instant."""
    body = swing.body

    def place(bone: str) -> Floats:
        return np.asarray(pose.places[body.index[bone]])

    across = {part: getattr(pose, part) @ np.array([1.0, 0, 0]) for part in ("thorax", "pelvis")}
    spine = place("neck01") - place("root")
    arm = place("wrist.L") - place("upperarm01.L")
    elbow = place("lowerarm01.L")
    hip, d = mid_hip(body, pose), pose.shaft
    return {
        "thorax_turn": math.degrees(math.atan2(across["thorax"][1], across["thorax"][0])),
        "pelvis_turn": math.degrees(math.atan2(across["pelvis"][1], across["pelvis"][0])),
        "spine_lateral": math.degrees(math.atan2(spine[0], spine[2])),
        "spine_forward": math.degrees(math.atan2(-spine[1], spine[2])),
        "wrist_angle": 180 - angle_deg(pose.lead_forearm, d),
        "lead_elbow": angle_deg(place("upperarm01.L") - elbow, place("wrist.L") - elbow),
        "shaft_inclination": math.degrees(math.atan2(-d[2], math.hypot(d[0], d[1]))),
        "shaft_plane_dtl": math.degrees(math.atan2(abs(d[2]), abs(d[1]))),
        "trail_heel_height": float(place("foot.R")[2]),
        "clubhead_height": float(pose.head[2]),
        "lead_arm_angle": math.degrees(math.atan2(-arm[0], -arm[2])),
        "pelvis_shift_x": float(hip[0] - reference.hip[0]),
        "pelvis_shift_y": float(reference.hip[1] - hip[1]),
        "head_shift_x": float(place("head")[0] - reference.head[0]),
        "shaft_lean": shaft_lean_deg(pose),
        "hand_path_out": _path_out(pose, reference, t_s),
        "com_x": float(mass_centre(body, pose)[0]),
    }


def _path_out(pose: Pose, ref: AddressReference, t_s: float) -> float | None:
    height = pose.grip[2]
    inside = ref.top_s < t_s <= ref.impact_s and ref.path_height[0] < height < ref.path_height[-1]
    if not inside:
        return None
    return float(np.interp(height, ref.path_height, ref.path_y) - pose.grip[1])
