"""Metrics from the down-the-line view: + is toward the ball."""

from __future__ import annotations

from functools import partial

import numpy as np

from analysis.metrics import aim, hand_path, parts
from analysis.metrics.sampler import Sampler
from analysis.metrics.spec import DTL_ONLY, MetricSpec, row_of
from analysis.types import Floats

TOWARD = "+ = toward the ball"

_row = partial(row_of, DTL_ONLY)


def _bend_lost(s: Sampler) -> Floats:
    return parts.trunk_lean("address")(s) - parts.trunk_lean("impact")(s)


def _shaft_to_ground(s: Sampler) -> Floats:
    return hand_path.steepness_deg(s.shaft_deg("address"), s.swing.plus_x)


def _hands_from_body(s: Sampler) -> Floats:
    gap = s.along(s.hands("address") - s.middle("hip", "address"))
    return np.asarray(100 * gap / s.stature_px)


METRICS: tuple[MetricSpec, ...] = (
    _row(
        "trunk_bend_address",
        "Trunk forward bend at address",
        "deg",
        ("address",),
        "Line mid-hip to mid-shoulder against the vertical.",
        TOWARD,
        parts.trunk_lean("address"),
        0.93,
        (30.0, 42.0),
    ),
    _row(
        "trunk_bend_top",
        "Trunk forward bend at the top",
        "deg",
        ("top",),
        "Line mid-hip to mid-shoulder against the vertical.",
        TOWARD,
        parts.trunk_lean("top"),
        0.94,
        (25.0, 42.0),
        "common practice; a picture reads 6.5 deg less than 3D (Smith et al. 2016)",
        "C/S",
    ),
    _row(
        "trunk_bend_impact",
        "Trunk forward bend at impact",
        "deg",
        ("impact",),
        "Line mid-hip to mid-shoulder against the vertical.",
        TOWARD,
        parts.trunk_lean("impact"),
        0.85,
        (25.0, 42.0),
    ),
    _row(
        "trunk_bend_loss",
        "Trunk forward bend lost by impact",
        "deg",
        ("address", "impact"),
        "Forward bend at address minus at impact.",
        "+ = stands up",
        _bend_lost,
        0.0,
        (None, 8.0),
        spread=0.92,
    ),
    _row(
        "pelvis_to_ball_impact",
        "Pelvis toward the ball by impact",
        "% of height",
        ("address", "impact"),
        "Shift of the point between the hips.",
        TOWARD,
        parts.per_height(parts.shift_px("hip", "address", "impact")),
        0.0,
        (None, 1.2),
    ),
    _row(
        "hand_path_out",
        "Hands' way down outside their way back",
        "% of height",
        ("takeaway", "top", "impact"),
        "Largest distance at equal heights between waist and shoulder.",
        "+ = nearer the ball on the way down",
        hand_path.hand_path_out,
        0.39,
        (None, 1.5),
    ),
    _row(
        "shaft_over_address_line",
        "Shaft against its address line in the downswing",
        "deg",
        ("lead_arm_parallel_down",),
        "Mean from lead arm parallel on while the shaft is seen at 60 % of its address length or more; the camera's "
        "place off the line, as far as it can be seen, taken out.",
        "+ = steeper",
        hand_path.shaft_over_address_line,
        2.2,
        (-5.0, 12.0),
        kind="shaft",
    ),
    _row(
        "head_outside_hands_delivery",
        "Clubhead against the hands at delivery",
        "% of height",
        ("delivery_shaft_parallel",),
        "Horizontal distance in the picture; the camera's line decides what counts as inside.",
        "+ = outside, nearer the ball",
        hand_path.head_outside_hands,
        0.0,
        (-8.0, 4.0),
        kind="shaft",
        spread=0.8,
    ),
    _row(
        "hands_depth_top",
        "Hands over the trail heel at the top",
        "% of height",
        ("address", "top"),
        "Hands against the trail heel's address place.",
        TOWARD,
        hand_path.hands_depth_top,
        0.095,
        (-6.0, 10.0),
    ),
    _row(
        "head_below_hands_top",
        "Clubhead under the hands at the top",
        "% of height",
        ("top",),
        "Vertical distance in the picture; a level shaft pointing away reads about 10 because the camera looks up.",
        "+ = head lower than the hands",
        hand_path.head_below_hands_top,
        2.5,
        (None, 8.0),
        kind="shaft",
    ),
    _row(
        "shaft_to_ground_address",
        "Shaft against the ground at address",
        "deg",
        ("address",),
        "Angle of the shaft's line in the picture.",
        "90 = upright",
        _shaft_to_ground,
        0.0,
        (47.0, 63.0),
        "by club: driver 47-53, 7-iron 56-60, wedge 59-63; common practice, no study",
        "C",
        kind="shaft",
        spread=0.58,
    ),
    _row(
        "hands_from_body_address",
        "Hands in front of the hips at address",
        "% of height",
        ("address",),
        "Hands against mid-hip.",
        TOWARD,
        _hands_from_body,
        0.57,
    ),
    _row(
        "feet_line_address",
        "Line of the feet at address",
        "deg",
        ("address",),
        "Line through the middles of both feet on the ground against the line the phone looks along, told to some 8 "
        "degrees. A phone off the target line moves it by as much: put it behind a club laid along that line.",
        "+ = lead foot nearer the ball's side",
        aim.feet_line,
        3.3,
        source="",
        grade="",
    ),
    _row(
        "trail_knee_address",
        "Trail knee flexion at address",
        "deg",
        ("address",),
        "180 minus hip-knee-ankle in the picture.",
        "0 = straight",
        parts.knee_flexion("trail", "address"),
        0.0,
        (15.0, 25.0),
        "common practice and memory, no study",
        "C/M",
        spread=0.76,
    ),
    _row(
        "trail_knee_loss_top",
        "Trail knee straightening to the top",
        "deg",
        ("address", "top"),
        "Trail knee flexion at address minus at the top.",
        "+ = straightens",
        lambda s: parts.knee_flexion("trail", "address")(s) - parts.knee_flexion("trail", "top")(s),
        0.0,
        (None, 15.0),
        spread=0.85,
    ),
    _row(
        "trail_heel_lift_finish",
        "Trail heel lift at the finish",
        "% of height",
        ("address", "finish"),
        "Rise of the heel from address.",
        "+ = up",
        parts.heel_lift("trail", "finish"),
        0.3,
        (3.0, None),
    ),
)
