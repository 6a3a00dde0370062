"""The line of the feet on the ground: against the renderer's own 3D points and lens, and what it can't tell."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from analysis.adapters.truth import truth_swing
from analysis.events import detect_events
from analysis.metrics import measure
from analysis.metrics.registry import ALL
from analysis.types import JOINT_INDEX, Metric
from tests.analysis.changes import stored_swing
from tests.analysis.conftest import truth_data, truth_tracks
from tests.analysis.metrics.test_camera_place import seen_from
from tests.analysis.mirror import mirrored

NAME = "feet_line_address"
FEET = ("ankle", "heel", "big_toe")
DTL = ["dtl_none", "dtl_steep", "dtl_early_ext", "dtl_overlong"]


def of(data: dict[str, Any]) -> Metric:
    swing, events = truth_swing(data)
    return measure(swing, events)[NAME]


def in_space(data: dict[str, Any]) -> float:
    """Degrees of the line of the feet in 3D against the target line, + = lead foot toward the ball."""
    joints, points = data["meta"]["joints"], np.array(data["frames"][0]["j3d"], float)
    middles = [
        (points[joints.index(f"coco_{side}_heel")] + points[joints.index(f"coco_{side}_big_toe")]) / 2
        for side in ("left", "right")
    ]
    along, _, _ = (middles[0] - middles[1]).tolist()
    toward_ball = float(middles[1][1] - middles[0][1])
    return float(np.degrees(np.arctan2(toward_ball, along)))


def with_feet_turned(data: dict[str, Any], deg: float) -> dict[str, Any]:
    """Only the feet stand along another line; camera, target line and the rest of the golfer stay."""
    rows = [i for i, name in enumerate(data["meta"]["joints"]) if name.endswith(FEET)]
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    turn = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    frames = []
    for frame in data["frames"]:
        points = np.array(frame["j3d"], float)
        middle = points[rows].mean(axis=0)
        points[rows] = (points[rows] - middle) @ turn.T + middle
        frames.append(frame | {"j3d": points.tolist()})
    return {"meta": data["meta"], "frames": frames}


@pytest.mark.parametrize("deg", [-20.0, -8.0, 0.0, 8.0, 20.0])
@pytest.mark.parametrize("name", DTL)
def test_feet_turned_in_space_read_that_angle(name: str, deg: float) -> None:
    """The phone's line is the camera's own; the truth file says how far it stands off the target line."""
    data = with_feet_turned(truth_data(name), deg)
    off_line = data["meta"]["camera"]["yaw_off"]
    metric = of(seen_from(data, 0.0))
    assert metric.value == pytest.approx(in_space(data) + off_line, abs=1.5)


@pytest.mark.parametrize("turned", [-12.0, -5.0, 5.0, 12.0])
def test_a_phone_off_the_line_moves_it_by_as_much(turned: float) -> None:
    """Which is why the definition says so: from the picture alone feet and phone can't be told apart."""
    data = truth_data("dtl_none")
    there, here = of(seen_from(data, turned)).value, of(seen_from(data, 0.0)).value
    assert there is not None and here is not None
    assert there - here == pytest.approx(-turned, abs=1.5)
    (row,) = (row for row in ALL if row.name == NAME)
    assert "A phone off the target line moves it by as much" in row.definition


def test_another_phone_height_and_lens_stay_within_the_error() -> None:
    """Both are assumed, and scale the angle; a flat picture twice as high stands for another lens."""
    data = with_feet_turned(truth_data("dtl_none"), 15.0)
    swing, events = truth_swing(seen_from(data, 0.0))
    value = measure(swing, events)[NAME].value
    assert value is not None
    for factor in (0.93, 1.07):
        pose = replace(swing.pose, height=round(swing.pose.height * factor))
        other = measure(replace(swing, pose=pose), events)[NAME]
        assert other.value is not None and other.se is not None
        assert abs(other.value) < abs(value) if factor > 1 else abs(other.value) > abs(value)
        assert abs(other.value - value) < other.se


@pytest.mark.parametrize("name", ["dtl_none", "dtl_steep"])
def test_the_mirrored_golfer_stands_the_same(name: str) -> None:
    swing, events = truth_tracks(name)
    mine, theirs = measure(swing, events)[NAME].value, measure(mirrored(swing), events)[NAME].value
    assert mine == pytest.approx(theirs, abs=1e-5)


def test_measured_feet_hold_the_truth_in_their_interval() -> None:
    swing = stored_swing("dtl_none")
    found = measure(swing, detect_events(swing))[NAME]
    truth = of(truth_data("dtl_none")).value
    assert found.value is not None and found.se is not None and truth is not None
    assert abs(found.value - truth) <= 1.96 * found.se
    # The limit that the definition states.
    assert 6.0 < 1.96 * found.se < 10.0


def test_feet_together_or_from_the_front_have_a_reason_instead() -> None:
    swing, events = truth_tracks("dtl_none")
    feet = [JOINT_INDEX[f"{side}_{part}"] for side in ("left", "right") for part in ("heel", "foot_index")]
    xy = swing.pose.xy.copy()
    xy[:, feet] = xy[:, feet].mean(axis=1, keepdims=True)
    together = measure(replace(swing, pose=replace(swing.pose, xy=xy)), events)[NAME]
    assert together.to_json() == {"reason": "the feet stand too close together to tell their line"}
    assert measure(*truth_tracks("fo_none"))[NAME].to_json() == {"reason": "needs the down-the-line view"}
