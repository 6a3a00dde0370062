"""Set-up numbers against the renderer's 3D points: what a picture reads, and that it follows another set-up."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest

from analysis.adapters.truth import HANDS_FROM_BUTT_M, truth_swing
from analysis.metrics import measure
from analysis.metrics.registry import ALL
from analysis.types import Floats, Metric
from tests.analysis.conftest import TRUTH_NAMES, truth_data
from tests.analysis.metrics.test_camera_place import pictured, seen_from

# Right-handers: the files of left-handers keep the unmirrored world, and mirroring has tests of its own.
RIGHT = [name for name in TRUTH_NAMES if "left" not in name]
FRONT, BEHIND = ([name for name in RIGHT if name.startswith(view)] for view in ("fo_", "dtl_"))


def at_address(name: str) -> Callable[[str], Floats]:
    """A point in space at address, metres: a surface landmark, `mid_` of two, `hands`, `head` of the club or `ball`."""
    meta, frames = truth_data(name)["meta"], truth_data(name)["frames"]
    frame = min(frames, key=lambda f: abs(f["t"] - meta["events"]["address"]))
    joints, club = np.array(frame["j3d"], float), np.array(frame["club3d"], float)

    def point(which: str) -> Floats:
        if which == "hands":
            return np.asarray(club[0] + HANDS_FROM_BUTT_M / meta["club_length_m"] * (club[1] - club[0]))
        if which == "head":
            return np.asarray(club[1])
        if which == "ball":
            return np.array(meta["ball"], float)
        if which.startswith("mid_"):
            sides = [point(f"{side}_{which.removeprefix('mid_')}") for side in ("left", "right")]
            return np.asarray(np.mean(sides, axis=0))
        return np.asarray(joints[meta["joints"].index(f"coco_{which}")])

    return point


def deg(across: float, up: float) -> float:
    return float(np.degrees(np.arctan2(across, up)))


def bent(a: Floats, b: Floats, c: Floats) -> float:
    """180 minus the angle at ``b``, degrees."""
    one, other = (a - b) / np.linalg.norm(a - b), (c - b) / np.linalg.norm(c - b)
    return 180 - float(np.degrees(np.arccos(one @ other)))


def in_space(name: str) -> dict[str, float]:
    """The set-up as it is; x runs to the target, -y to the ball, z up; the left side leads."""
    p, height = at_address(name), truth_data(name)["meta"]["body_height_m"]
    if name.startswith("fo_"):
        lead, trail = p("left_ankle")[0], p("right_ankle")[0]
        rises = {part: p(f"left_{part}") - p(f"right_{part}") for part in ("shoulder", "hip")}
        return {
            "stance_width": 100 * (lead - trail) / height,
            "ball_position": 100 * (p("ball")[0] - trail) / (lead - trail),
            "shoulder_line_address": deg(rises["shoulder"][2], rises["shoulder"][0]),
            "hip_line_address": deg(rises["hip"][2], rises["hip"][0]),
            "hands_place_address": 100 * (p("hands") - p("mid_hip"))[0] / height,
            "trunk_tilt_address": deg(*(p("mid_shoulder") - p("mid_hip"))[[0, 2]]),
            "shaft_lean_address": deg(*(p("hands") - p("head"))[[0, 2]]),
        }
    trunk, shaft = p("mid_shoulder") - p("mid_hip"), p("hands") - p("head")
    return {
        "trunk_bend_address": deg(-trunk[1], trunk[2]),
        "shaft_to_ground_address": deg(shaft[2], shaft[1]),
        "hands_from_body_address": -100 * (p("hands") - p("mid_hip"))[1] / height,
        "trail_knee_address": bent(p("right_hip"), p("right_knee"), p("right_ankle")),
    }


def numbers(data: dict[str, Any]) -> Mapping[str, Metric]:
    swing, events = truth_swing(data)
    return measure(swing, events)


# What perspective takes away or adds at three metres; a knee that bends partly toward the phone shows less.
WITHIN = {
    "stance_width": 2.2,
    "ball_position": 3.5,
    "shoulder_line_address": 1.0,
    "hip_line_address": 0.5,
    "hands_place_address": 1.0,
    "trunk_tilt_address": 0.6,
    "shaft_lean_address": 1.0,
    "trunk_bend_address": 1.2,
    "shaft_to_ground_address": 0.6,
    "hands_from_body_address": 2.0,
    "trail_knee_address": 4.0,
}


@pytest.mark.parametrize("name", RIGHT)
def test_the_picture_reads_the_set_up_as_it_is(name: str) -> None:
    found, truth = numbers(truth_data(name)), in_space(name)
    off = {key: found[key].value - value for key, value in truth.items() if found[key].value is not None}
    print(f"\n{name}: " + ", ".join(f"{key} {v:+.1f}" for key, v in off.items()))
    assert set(off) == set(truth)
    assert {key: v for key, v in off.items() if abs(v) > WITHIN[key]} == {}


def with_wider_stance(data: dict[str, Any], metres: float) -> dict[str, Any]:
    """The lead foot that much nearer the target; all else stays."""
    rows = [
        i
        for i, name in enumerate(data["meta"]["joints"])
        if name.startswith(("left_", "coco_left_")) and name.endswith(("ankle", "heel", "toe", "foot_index"))
    ]
    frames = []
    for frame in data["frames"]:
        points = np.array(frame["j3d"], float)
        points[rows, 0] += metres
        frames.append(frame | {"j3d": points.tolist()})
    return {"meta": data["meta"], "frames": frames}


def with_ball_at(data: dict[str, Any], forward_m: float) -> dict[str, Any]:
    """The ball that much nearer the target."""
    place = np.array(data["meta"]["ball"], float) + np.array([forward_m, 0.0, 0.0])
    seen = pictured(data["meta"], place[None])[0].tolist()
    return {"meta": data["meta"], "frames": [f | {"ball2d": f["ball2d"] and seen} for f in data["frames"]]}


def changes(after: dict[str, Any], before: dict[str, Any], *keys: str) -> list[float]:
    one, other = numbers(after), numbers(before)
    return [float((one[key].value or np.nan) - (other[key].value or np.nan)) for key in keys]


@pytest.mark.parametrize("metres", [-0.08, 0.12])
def test_a_wider_stance_and_another_ball_place_are_seen(metres: float) -> None:
    plain = seen_from(truth_data("fo_none"), 0.0)
    p, height = at_address("fo_none"), plain["meta"]["body_height_m"]
    width, back = p("left_ankle")[0] - p("right_ankle")[0], p("ball")[0] - p("right_ankle")[0]
    wider, place = changes(
        seen_from(with_wider_stance(truth_data("fo_none"), metres), 0.0),
        plain,
        "stance_width",
        "ball_position",
    )
    assert wider == pytest.approx(100 * metres / height, rel=0.12)
    assert place == pytest.approx(100 * (back / (width + metres) - back / width), abs=1.5)
    (forward,) = changes(with_ball_at(plain, metres), with_ball_at(plain, 0.0), "ball_position")
    # The ball lies nearer the phone than the feet, so that its way looks longer.
    nearer = 1 + 0.76 / truth_data("fo_none")["meta"]["camera"]["dist"]
    assert forward == pytest.approx(nearer * 100 * metres / width, rel=0.2)


@pytest.mark.parametrize("deg_more", [-8.0, 10.0])
def test_a_golfer_who_bends_more_is_seen_bending_more(deg_more: float) -> None:
    data = truth_data("dtl_none")
    (more,) = changes(seen_from(bent_over(data, deg_more), 0.0), seen_from(data, 0.0), "trunk_bend_address")
    assert more == pytest.approx(deg_more, abs=1.0)


def bent_over(data: dict[str, Any], deg_more: float) -> dict[str, Any]:
    """Shoulders and head turned about the hips toward the ball."""
    names = data["meta"]["joints"]
    upper = [
        i
        for i, n in enumerate(names)
        if n.split("_")[-1] in ("shoulder", "ear", "eye", "nose", "head", "neck")
    ]
    hips = [names.index(f"coco_{side}_hip") for side in ("left", "right")]
    c, s = np.cos(np.radians(deg_more)), np.sin(np.radians(deg_more))
    turn = np.array([[1, 0, 0], [0, c, -s], [0, s, c]])
    frames = []
    for frame in data["frames"]:
        points = np.array(frame["j3d"], float)
        middle = points[hips].mean(axis=0)
        points[upper] = (points[upper] - middle) @ turn.T + middle
        frames.append(frame | {"j3d": points.tolist()})
    return {"meta": data["meta"], "frames": frames}


def test_knees_from_the_front_show_little_of_their_bend_and_say_so() -> None:
    for name in FRONT:
        p, found = at_address(name), numbers(truth_data(name))
        for side, key in (("left", "lead_knee_address"), ("right", "trail_knee_address_front")):
            really = bent(p(f"{side}_hip"), p(f"{side}_knee"), p(f"{side}_ankle"))
            assert found[key].value is not None
            assert abs(found[key].value) < really
    rows = {row.name: row.definition for row in ALL}
    assert "shows little of the bend" in rows["lead_knee_address"]
    assert "shows little of the bend" in rows["trail_knee_address_front"]


def test_every_set_up_number_has_a_check_here_or_in_the_line_of_the_feet() -> None:
    """Set-up: all that is read at address alone."""
    checked = {*WITHIN, "lead_knee_address", "trail_knee_address_front", "feet_line_address"}
    assert {row.name for row in ALL if row.at == ("address",)} == checked
