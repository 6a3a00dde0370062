"""Metrics from the face-on view: + is toward the target."""

from __future__ import annotations

from functools import partial

import numpy as np

from analysis.geometry import direction_deg, wrap_deg
from analysis.mass import mass_centre
from analysis.metrics import parts
from analysis.metrics.sampler import Missing, Sampler
from analysis.metrics.spec import FACE_ON_ONLY, MetricSpec, row_of
from analysis.types import Floats

TOWARD = "+ = toward the target"
STRAIGHT = "180 = straight"
IN_LINE = "180 = in line, 90 = square; the picture's projection"

_row = partial(row_of, FACE_ON_ONLY)


def _past_parallel(s: Sampler) -> Floats:
    """Degrees by which the shaft has passed level at the top; negative = short of level."""
    deg = s.shaft_deg("top")
    return wrap_deg(deg if s.swing.plus_x > 0 else 180 - deg)


def _elbow_loss(s: Sampler) -> Floats:
    return parts.lead_elbow("impact")(s) - parts.lead_elbow("impact", 0.05)(s)


def _elbow_fold(s: Sampler) -> Floats:
    """How far the forearm turns from the upper arm's line, mean over 0.03 to 0.06 s after impact.

    With its sense kept a straight arm reads 0 on average; the plain elbow angle can't exceed 180 and reads
    every error as a bend.
    """
    folds = []
    for shift_s in (0.03, 0.04, 0.05, 0.06):
        shoulder, elbow, wrist = (
            s.joint(f"lead_{p}", "impact", shift_s) for p in ("shoulder", "elbow", "wrist")
        )
        folds.append(wrap_deg(direction_deg(elbow, wrist) - direction_deg(shoulder, elbow)))
    return np.asarray(s.swing.plus_x * np.mean(folds, axis=0))


def _hips_over_lead_ankle(event: str) -> parts.Compute:
    def compute(s: Sampler) -> Floats:
        past = s.along(s.middle("hip", event) - s.joint("lead_ankle", event))
        return np.asarray(100 * past / np.maximum(s.stance_px(), 1.0))

    return compute


def _mass_between_feet(event: str) -> parts.Compute:
    def compute(s: Sampler) -> Floats:
        trail, lead = s.joint("trail_ankle", event)[:, 0], s.joint("lead_ankle", event)[:, 0]
        width = lead - trail
        if abs(width[0]) < 0.05 * s.stature_px:
            raise Missing("the feet can't be told apart")
        return np.asarray(100 * (mass_centre(s, event)[:, 0] - trail) / width)

    return compute


def _ball_place(s: Sampler) -> Floats:
    ball = s.swing.ball.xy
    if not np.isfinite(ball).all():
        raise Missing("no ball was seen")
    trail, lead = s.joint("trail_ankle", "address")[:, 0], s.joint("lead_ankle", "address")[:, 0]
    return np.asarray(100 * (ball[0] - trail) / (lead - trail))


def _hands_place(s: Sampler) -> Floats:
    gap = s.along(s.hands("address") - s.middle("hip", "address"))
    return np.asarray(100 * gap / s.stature_px)


def _opened_before(s: Sampler) -> Floats:
    """How far the arm-shaft angle has opened from the top to lead arm parallel, degrees."""
    return parts.arm_shaft("lead_arm_parallel_down")(s) - parts.arm_shaft("top")(s)


METRICS: tuple[MetricSpec, ...] = (
    _row(
        "trunk_tilt_address",
        "Trunk side tilt at address",
        "deg",
        ("address",),
        "Line mid-hip to mid-shoulder against the vertical.",
        TOWARD,
        parts.trunk_lean("address"),
        0.0,
        (-10.0, 0.0),
        spread=0.61,
    ),
    _row(
        "trunk_tilt_top",
        "Trunk side tilt at the top",
        "deg",
        ("top",),
        "Line mid-hip to mid-shoulder against the vertical.",
        TOWARD,
        parts.trunk_lean("top"),
        0.0,
        (-10.0, 2.0),
        spread=0.37,
    ),
    _row(
        "trunk_tilt_impact",
        "Trunk side tilt at impact",
        "deg",
        ("impact",),
        "Line mid-hip to mid-shoulder against the vertical; it mixes bend, tilt and turn.",
        TOWARD,
        parts.trunk_lean("impact"),
        0.0,
        (-35.0, -5.0),
        "3D side bend, from memory; a picture reads about 9 deg more (Smith et al. 2016)",
        "M",
        spread=0.89,
    ),
    _row(
        "pelvis_shift_top",
        "Mid-hip shift, address to top",
        "% of stance",
        ("address", "top"),
        "Shift of the point between the hips in shares of the ankle spacing.",
        TOWARD,
        parts.per_stance(parts.shift_px("hip", "address", "top")),
        0.0,
        (-10.0, 3.0),
        spread=0.62,
    ),
    _row(
        "pelvis_shift_impact",
        "Mid-hip shift, address to impact",
        "% of stance",
        ("address", "impact"),
        "Shift of the point between the hips in shares of the ankle spacing.",
        TOWARD,
        parts.per_stance(parts.shift_px("hip", "address", "impact")),
        0.0,
        (5.0, 30.0),
        "common practice and memory, no study",
        "C/M",
    ),
    _row(
        "hips_past_lead_ankle",
        "Mid-hip past the lead ankle at impact",
        "% of stance",
        ("impact",),
        "Mid-hip against the lead ankle in shares of the ankle spacing.",
        "+ = beyond the lead ankle",
        _hips_over_lead_ankle("impact"),
        0.0,
        (None, 0.0),
    ),
    _row(
        "hips_past_lead_ankle_finish",
        "Mid-hip past the lead ankle at the finish",
        "% of stance",
        ("address", "finish"),
        "Mid-hip against the lead ankle in shares of the ankle spacing at address.",
        "0 = over the lead ankle, - = still behind it",
        _hips_over_lead_ankle("finish"),
        0.0,
        (-15.0, None),
    ),
    _row(
        "head_shift_top",
        "Head shift, address to top",
        "% of height",
        ("address", "top"),
        "Shift of the point between the ears.",
        TOWARD,
        parts.per_height(parts.shift_px("ear", "address", "top")),
        0.0,
        (-3.0, 1.0),
        spread=0.91,
    ),
    _row(
        "head_shift_impact",
        "Head shift, address to impact",
        "% of height",
        ("address", "impact"),
        "Shift of the point between the ears.",
        TOWARD,
        parts.per_height(parts.shift_px("ear", "address", "impact")),
        0.0,
        (-5.0, 1.0),
        spread=0.77,
    ),
    _row(
        "head_drop_down",
        "Head drop to lead arm parallel down",
        "% of height",
        ("address", "lead_arm_parallel_down"),
        "Drop of the point between the ears.",
        "+ = lower than at address",
        parts.per_height(parts.rise_px("ear", "lead_arm_parallel_down", "address")),
        0.26,
        (0.0, 3.0),
    ),
    _row(
        "lead_elbow_top",
        "Lead elbow at the top",
        "deg",
        ("top",),
        "Shoulder-elbow-wrist angle in the picture.",
        STRAIGHT,
        parts.lead_elbow("top"),
        0.0,
        (160.0, 180.0),
        spread=0.76,
    ),
    _row(
        "lead_elbow_impact",
        "Lead elbow at impact",
        "deg",
        ("impact",),
        "Shoulder-elbow-wrist angle in the picture.",
        STRAIGHT,
        parts.lead_elbow("impact"),
        0.0,
        (165.0, 180.0),
        spread=0.84,
    ),
    _row(
        "lead_elbow_after_impact",
        "Lead elbow 0.05 s after impact",
        "deg",
        ("impact",),
        "Shoulder-elbow-wrist angle in the picture, 0.05 s after impact.",
        STRAIGHT,
        parts.lead_elbow("impact", 0.05),
        0.0,
        (150.0, 180.0),
        spread=0.63,
    ),
    _row(
        "lead_elbow_loss",
        "Lead elbow bending after impact",
        "deg",
        ("impact",),
        "Lead elbow at impact minus 0.05 s later.",
        "+ = bends",
        _elbow_loss,
        0.0,
        (None, 15.0),
        spread=0.74,
    ),
    _row(
        "lead_elbow_fold_after_impact",
        "Lead elbow folding outward after impact",
        "deg",
        ("impact",),
        "Turn of the forearm against the upper arm in the picture, mean over 0.03 to 0.06 s after impact.",
        "+ = the elbow points toward the target",
        _elbow_fold,
        0.0,
        (None, 8.0),
        "computed on rendered swings",
        "K",
        spread=0.86,
    ),
    _row(
        "lead_arm_height_top",
        "Lead arm at the top",
        "deg",
        ("top",),
        "Line lead shoulder to lead wrist against the horizontal.",
        "+ = hands above the shoulder",
        parts.arm_elevation("top"),
        11.0,
        (0.0, 45.0),
    ),
    _row(
        "arm_shaft_lead_arm_parallel_back",
        "Arm-shaft angle, lead arm parallel back",
        "deg",
        ("lead_arm_parallel_back",),
        "Lead forearm to shaft in the picture.",
        IN_LINE,
        parts.arm_shaft("lead_arm_parallel_back"),
        2.4,
        (80.0, 110.0),
        kind="shaft",
    ),
    _row(
        "arm_shaft_top",
        "Arm-shaft angle at the top",
        "deg",
        ("top",),
        "Lead forearm to shaft in the picture.",
        IN_LINE,
        parts.arm_shaft("top"),
        0.0,
        (80.0, 100.0),
        "common practice and memory, no study",
        "C/M",
        kind="shaft",
        spread=0.77,
    ),
    _row(
        "arm_shaft_lead_arm_parallel_down",
        "Arm-shaft angle, lead arm parallel down",
        "deg",
        ("lead_arm_parallel_down",),
        "Lead forearm to shaft in the picture.",
        IN_LINE,
        parts.arm_shaft("lead_arm_parallel_down"),
        5.6,
        (70.0, 95.0),
        "common practice and memory; Fedorcik et al. 2012 differ between skill groups by 15.8 deg",
        "C/M",
        kind="shaft",
    ),
    _row(
        "arm_shaft_delivery",
        "Arm-shaft angle at delivery",
        "deg",
        ("delivery_shaft_parallel",),
        "Lead forearm to shaft in the picture, shaft level before impact.",
        IN_LINE,
        parts.arm_shaft("delivery_shaft_parallel"),
        0.0,
        (95.0, 130.0),
        kind="shaft",
        spread=0.9,
    ),
    _row(
        "arm_shaft_opened_early",
        "Opening of the arm-shaft angle before lead arm parallel",
        "deg",
        ("top", "lead_arm_parallel_down"),
        "Arm-shaft angle at lead arm parallel down minus at the top.",
        "+ = the club is released early",
        _opened_before,
        0.0,
        (None, 10.0),
        kind="shaft",
        spread=0.7,
    ),
    _row(
        "shaft_lean_address",
        "Shaft lean at address",
        "deg",
        ("address",),
        "Shaft against the vertical.",
        "+ = grip nearer the target than the head",
        parts.shaft_lean("address"),
        2.7,
        (0.0, 6.0),
        kind="shaft",
    ),
    _row(
        "shaft_lean_impact",
        "Shaft lean at impact",
        "deg",
        ("impact",),
        "Shaft against the vertical.",
        "+ = grip nearer the target than the head",
        parts.shaft_lean("impact"),
        0.0,
        (2.0, 12.0),
        "common practice and memory, by club; iron band shown",
        "C/M",
        50.0,
        kind="shaft",
        spread=0.84,
    ),
    _row(
        "shaft_past_parallel_top",
        "Shaft past level at the top",
        "deg",
        ("top",),
        "Shaft against the horizontal in the picture.",
        "+ = past level, - = short of it",
        _past_parallel,
        0.0,
        (None, 5.0),
        kind="shaft",
    ),
    _row(
        "trail_heel_lift_impact",
        "Trail heel lift at impact",
        "% of height",
        ("address", "impact"),
        "Rise of the heel from address.",
        "+ = up",
        parts.heel_lift("trail", "impact"),
        0.0,
        (0.3, None),
        spread=0.9,
    ),
    _row(
        "trail_heel_lift_finish",
        "Trail heel lift at the finish",
        "% of height",
        ("address", "finish"),
        "Rise of the heel from address.",
        "+ = up",
        parts.heel_lift("trail", "finish"),
        0.0,
        (3.0, None),
    ),
    _row(
        "lead_knee_impact",
        "Lead knee flexion at impact",
        "deg",
        ("impact",),
        "180 minus hip-knee-ankle in the picture: foreshortened, use as a trend.",
        "0 = straight",
        parts.knee_flexion("lead", "impact"),
        0.0,
        (0.0, 20.0),
        "common practice and memory, no study",
        "C/M",
        spread=0.9,
    ),
    _row(
        "trail_knee_top",
        "Trail knee flexion at the top",
        "deg",
        ("top",),
        "180 minus hip-knee-ankle in the picture: foreshortened, use as a trend.",
        "0 = straight",
        parts.knee_flexion("trail", "top"),
        0.0,
        (8.0, 30.0),
        spread=0.76,
    ),
    _row(
        "mass_between_feet_top",
        "Centre of mass over the feet at the top",
        "%",
        ("top",),
        "Mass centre between the ankles: 0 = over the trail ankle, 100 = over the lead ankle. Not pressure.",
        "+ = nearer the lead foot",
        _mass_between_feet("top"),
        0.0,
        (25.0, 50.0),
        "de Leva 1996 for the masses; band common practice, no study",
        "C",
        spread=0.46,
    ),
    _row(
        "mass_between_feet_impact",
        "Centre of mass over the feet at impact",
        "%",
        ("impact",),
        "Mass centre between the ankles: 0 = over the trail ankle, 100 = over the lead ankle. Not pressure.",
        "+ = nearer the lead foot",
        _mass_between_feet("impact"),
        0.0,
        (50.0, 85.0),
        "de Leva 1996 for the masses; band common practice, no study",
        "C",
        spread=0.88,
    ),
    _row(
        "hip_width_impact",
        "Hip line at impact, picture width",
        "% of address",
        ("address", "impact"),
        "Width of the hip line in the picture: a rough sign of turn, not an angle.",
        "100 = as at address, 0 = edge-on",
        parts.hip_width_impact,
        12.0,
    ),
    _row(
        "hip_width_finish",
        "Hip line at the finish, picture width",
        "% of address",
        ("address", "finish"),
        "Width of the hip line in the picture: a rough sign of turn, not an angle.",
        "100 = as at address, 0 = facing the target",
        parts.hip_width_finish,
        0.0,
        (None, 40.0),
        spread=0.81,
    ),
    _row(
        "knee_gap_finish",
        "Knees apart at the finish",
        "% of address",
        ("address", "finish"),
        "Knee spacing in the picture; in a full turn the trail knee comes to the lead one.",
        "100 = as far apart as at address",
        parts.width_share("knee", "finish"),
        9.3,
        (None, 75.0),
    ),
    _row(
        "stance_width",
        "Stance width",
        "% of height",
        ("address",),
        "Ankle spacing at address.",
        "always positive",
        parts.per_height(lambda s: s.stance_px()),
        0.65,
        (20.0, 32.0),
    ),
    _row(
        "ball_position",
        "Ball position in the stance",
        "%",
        ("address",),
        "Ball between the ankles in the picture: 0 = trail ankle, 100 = lead ankle; the camera's place biases it.",
        "+ = nearer the lead foot",
        _ball_place,
        1.8,
        (50.0, 95.0),
    ),
    _row(
        "shoulder_line_address",
        "Shoulder line at address",
        "deg",
        ("address",),
        "Line trail shoulder to lead shoulder against the horizontal of the picture.",
        "+ = lead shoulder higher",
        parts.line_rise("shoulder", "address"),
        0.0,
        (0.0, 12.0),
        spread=0.71,
    ),
    _row(
        "hip_line_address",
        "Hip line at address",
        "deg",
        ("address",),
        "Line trail hip to lead hip against the horizontal of the picture.",
        "+ = lead hip higher",
        parts.line_rise("hip", "address"),
        0.0,
        (-3.0, 6.0),
        spread=0.45,
    ),
    _row(
        "shoulder_line_impact",
        "Shoulder line at impact",
        "deg",
        ("impact",),
        "Line trail shoulder to lead shoulder against the horizontal; it steepens in the picture as the chest opens.",
        "+ = lead shoulder higher",
        parts.line_rise("shoulder", "impact"),
        2.4,
        (10.0, 40.0),
        "about 25 deg in professionals, newspaper report of Meister et al. 2011",
        "S2",
    ),
    _row(
        "hands_place_address",
        "Hands at address",
        "% of height",
        ("address",),
        "Hands against mid-hip along the target line.",
        TOWARD,
        _hands_place,
        0.0,
        (-2.0, 6.0),
        spread=0.81,
    ),
    _row(
        "lead_knee_address",
        "Lead knee flexion at address",
        "deg",
        ("address",),
        "180 minus hip-knee-ankle in the picture: seen from the front it shows little of the bend, use as a trend.",
        "0 = straight",
        parts.knee_flexion("lead", "address"),
        0.0,
        spread=0.86,
    ),
    _row(
        "trail_knee_address_front",
        "Trail knee flexion at address, from the front",
        "deg",
        ("address",),
        "180 minus hip-knee-ankle in the picture: seen from the front it shows little of the bend, use as a trend.",
        "0 = straight",
        parts.knee_flexion("trail", "address"),
        0.0,
        spread=0.8,
    ),
)
