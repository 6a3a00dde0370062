"""Small computations that metrics of both views share."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from analysis.geometry import joint_angle_deg, lean_deg, wrap_deg
from analysis.metrics.sampler import Missing, Sampler
from analysis.types import Floats

Compute = Callable[[Sampler], Floats]


def trunk_lean(event: str) -> Compute:
    """Lean of the line mid-hip to mid-shoulder from the vertical at an event, degrees."""

    def compute(s: Sampler) -> Floats:
        return lean_deg(s.middle("hip", event), s.middle("shoulder", event), s.swing.plus_x)

    return compute


def knee_flexion(side: str, event: str) -> Compute:
    """180 minus the picture angle hip-knee-ankle, degrees."""

    def compute(s: Sampler) -> Floats:
        hip, knee, ankle = (s.joint(f"{side}_{part}", event) for part in ("hip", "knee", "ankle"))
        return 180 - joint_angle_deg(hip, knee, ankle)

    return compute


def lead_elbow(event: str, shift_s: float = 0.0) -> Compute:
    """Picture angle shoulder-elbow-wrist of the lead arm, 180 = straight."""

    def compute(s: Sampler) -> Floats:
        shoulder, elbow, wrist = (
            s.joint(f"lead_{p}", event, shift_s) for p in ("shoulder", "elbow", "wrist")
        )
        return joint_angle_deg(shoulder, elbow, wrist)

    return compute


def arm_shaft(event: str) -> Compute:
    """Picture angle between lead forearm and shaft, 180 = in line, 90 = square."""

    def compute(s: Sampler) -> Floats:
        return np.abs(wrap_deg(s.forearm_deg(event) - s.shaft_deg(event)))

    return compute


def shift_px(part: str, start: str, end: str) -> Compute:
    """Horizontal shift of the point between left and right ``part`` in the positive sense, pixels."""

    def compute(s: Sampler) -> Floats:
        return s.along(s.middle(part, end) - s.middle(part, start))

    return compute


def rise_px(part: str, start: str, end: str) -> Compute:
    """Rise of the point between left and right ``part``, pixels, + = up."""

    def compute(s: Sampler) -> Floats:
        return np.asarray(s.middle(part, start)[:, 1] - s.middle(part, end)[:, 1])

    return compute


def per_height(compute: Compute) -> Compute:
    """Pixels as percent of the standing height."""
    return lambda s: 100 * compute(s) / s.stature_px


def per_stance(compute: Compute) -> Compute:
    """Pixels as percent of the ankle spacing at address."""

    def share(s: Sampler) -> Floats:
        stance = s.stance_px()
        if stance[0] < 0.05 * s.stature_px:
            raise Missing("the feet can't be told apart in this view")
        return 100 * compute(s) / np.maximum(stance, 0.05 * s.stature_px)

    return share


def width_share(part: str, event: str) -> Compute:
    """Signed picture width of a body line at an event, percent of its width at address.

    Lead side on the target's side counts positive; below zero the line has turned past the camera's axis.
    """

    def width(s: Sampler, when: str) -> Floats:
        return s.along(s.joint(f"lead_{part}", when) - s.joint(f"trail_{part}", when))

    def compute(s: Sampler) -> Floats:
        at_address = width(s, "address")
        if abs(at_address[0]) < 0.03 * s.stature_px:
            raise Missing("the body is edge-on at address")
        return 100 * width(s, event) / at_address

    return compute


# The pose model draws turned hips wider than they are: its width at the finish against the real one, both in
# percent of the height, in rendered clips of full and of stalled turns (scatter 0.8).
HIPS_FINISH_FROM, HIPS_FINISH_PER = -9.0, 1.8


def hip_width_finish(s: Sampler) -> Floats:
    """Picture width of the hip line at the finish, percent of its width at address, corrected for the pose model."""

    def width(when: str, seen: bool) -> Floats:
        return s.along(s.joint("lead_hip", when, as_seen=seen) - s.joint("trail_hip", when, as_seen=seen))

    now = 100 * width("finish", True) / s.stature_px
    if not s.swing.exact:
        now = HIPS_FINISH_FROM + HIPS_FINISH_PER * now
    return np.asarray(now * s.stature_px / np.maximum(width("address", False), 0.06 * s.stature_px))


def hip_width_impact(s: Sampler) -> Floats:
    """Withheld: what the pose model shows of the hips at impact hardly depends on their turn."""
    raise Missing("the hips' turn at impact can't be read from one picture")


def shaft_lean(event: str) -> Compute:
    """Shaft from the vertical, + = the grip end nearer the target than the head, degrees."""

    def compute(s: Sampler) -> Floats:
        upward = np.radians(s.shaft_deg(event) + 180)
        return np.asarray(wrap_deg(np.degrees(np.arctan2(s.swing.plus_x * np.cos(upward), -np.sin(upward)))))

    return compute


def arm_elevation(event: str) -> Compute:
    """Line lead shoulder to lead wrist above the horizontal, degrees."""

    def compute(s: Sampler) -> Floats:
        d = s.joint("lead_wrist", event) - s.joint("lead_shoulder", event)
        return np.asarray(np.degrees(np.arctan2(-d[:, 1], np.abs(d[:, 0]))))

    return compute


def line_rise(part: str, event: str) -> Compute:
    """Slope of the line from the trail to the lead ``part``, degrees, + = the lead side higher."""

    def compute(s: Sampler) -> Floats:
        d = s.joint(f"lead_{part}", event) - s.joint(f"trail_{part}", event)
        return np.asarray(np.degrees(np.arctan2(-d[:, 1], s.along(d))))

    return compute


def heel_lift(side: str, event: str) -> Compute:
    """Rise of a heel from address, percent of height."""

    def compute(s: Sampler) -> Floats:
        rise = s.joint(f"{side}_heel", "address") - s.joint(f"{side}_heel", event)
        return 100 * rise[:, 1] / s.stature_px

    return compute
