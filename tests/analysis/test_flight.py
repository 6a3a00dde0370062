"""Ball flight against 43 worked examples, vector geometry done another way, and the facts of one strike.

The examples are computed (grade K), see ``data/README.md``. Start share: Wood, Henrikson and Broadie 2018 (S).
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.flight import (
    BETWEEN,
    FACE_SHARE,
    Flight,
    axis_tilt_deg,
    direction,
    flight,
    flight_words,
    infer_signs,
    launch_direction,
    lead_or_trail,
    shape_name,
)

pytestmark = pytest.mark.unit

ROWS = list(
    csv.DictReader((Path(__file__).parent / "data" / "ballflight_examples.csv").read_text().splitlines())
)
MIRROR = {"left": "right", "right": "left", "straight": "straight", None: None}
angles = st.floats(-12, 12).map(lambda value: round(value, 3))


def strike(row: dict[str, str]) -> Flight:
    names = ("path_deg", "face_deg", "attack_deg", "dynamic_loft_deg", "face_share")
    return flight(**{name: float(row[name]) for name in names})


def test_there_are_examples() -> None:
    assert len(ROWS) == 43
    assert {row["club"] for row in ROWS} == {"driver", "7-iron", "PW"}


@pytest.mark.parametrize("row", ROWS)
def test_numbers_of_the_worked_examples(row: dict[str, str]) -> None:
    found = strike(row)
    assert found.start_deg == pytest.approx(float(row["start_deg_linear"]), abs=0.01)
    assert found.start_vector_deg == pytest.approx(float(row["start_deg_dplane"]), abs=0.01)
    assert abs(found.start_deg - found.start_vector_deg) <= 0.6
    assert found.spin_loft_deg == pytest.approx(float(row["spin_loft_deg"]), abs=0.06)
    assert found.axis_tilt_deg == pytest.approx(float(row["spin_axis_tilt_deg"]), abs=0.1)


@pytest.mark.parametrize("row", ROWS)
def test_classes_of_the_worked_examples(row: dict[str, str]) -> None:
    found = strike(row)
    curve = {"none": "straight"}.get(row["curve_class"], row["curve_class"])
    assert (found.curve, found.strength) == (curve, row["curve_strength"])
    assert row["start_class"] in found.starts
    if found.start != BETWEEN:
        assert found.start == row["start_class"]
        for hand in ("right", "left"):
            words = row[f"flight_class_{hand}_handed"].split("/")
            pick = words[-1] if row["curve_strength"] in ("none", "mild") else words[0]
            assert flight_words(found, hand) == pick


def test_most_examples_have_a_class_and_the_rest_lie_near_a_border() -> None:
    unclear = [row for row in ROWS if strike(row).start == BETWEEN]
    assert len(unclear) == 13
    assert all(0.4 <= abs(float(row["start_deg_linear"])) <= 2.1 for row in unclear)


def test_all_nine_shapes_and_their_mirror_images() -> None:
    sides = ("left", "straight", "right")
    names = {
        (s, c): shape_name(s, c, "none" if c == "straight" else "severe", "right")
        for s in sides
        for c in sides
    }
    assert len(set(names.values())) == 9
    for (start, curve), name in names.items():
        strength = "none" if curve == "straight" else "severe"
        assert shape_name(MIRROR[start], MIRROR[curve], strength, "left") == name


def turned_about(vector: np.ndarray, axis: np.ndarray, angle: float) -> np.ndarray:
    """Rodrigues' rotation, a second way into the plane of velocity and normal."""
    k = axis / np.linalg.norm(axis)
    turned = vector * math.cos(angle) + np.cross(k, vector) * math.sin(angle)
    return np.asarray(turned + k * (k @ vector) * (1 - math.cos(angle)))


@given(
    path=angles,
    face=angles,
    attack=st.floats(-8, 6),
    loft=st.floats(10, 50),
    share=st.floats(0.55, 0.9),
)
def test_the_vector_form_by_rotation(
    path: float, face: float, attack: float, loft: float, share: float
) -> None:
    velocity, normal = direction(path, attack), direction(face, loft)
    axis = np.cross(velocity, normal)
    angle = math.acos(min(1.0, float(velocity @ normal)))
    ball = turned_about(velocity, axis, share * angle)
    assert launch_direction(velocity, normal, share) == pytest.approx(ball, abs=1e-7)
    found = flight(path_deg=path, face_deg=face, attack_deg=attack, dynamic_loft_deg=loft, face_share=share)
    assert found.start_vector_deg == pytest.approx(math.degrees(math.atan2(ball[1], ball[0])), abs=1e-5)
    # An axis tilted right of level leaves the ball's turning plane leaning right: force is along spin x motion.
    push = np.cross(axis / np.linalg.norm(axis), velocity)
    sideways = push @ np.array([-velocity[1], velocity[0], 0.0])
    if abs(face - path) > 0.05:
        assert math.copysign(1, found.axis_tilt_deg) == math.copysign(1, face - path)
        assert math.copysign(1, sideways) == math.copysign(1, face - path)


@pytest.mark.parametrize("row", ROWS)
def test_small_angle_form_of_the_tilt(row: dict[str, str]) -> None:
    # tan(tilt) = cos(attack) cos(loft) sin(face - path) / sin(loft - attack): within 0.05 degrees (K).
    attack, loft = math.radians(float(row["attack_deg"])), math.radians(float(row["dynamic_loft_deg"]))
    gap = math.radians(float(row["face_deg"]) - float(row["path_deg"]))
    spin_loft = loft - attack
    tilt = math.atan(math.cos(attack) * math.cos(loft) * math.sin(gap) / math.sin(spin_loft))
    assert strike(row).axis_tilt_deg == pytest.approx(math.degrees(tilt), abs=0.05)


@pytest.mark.parametrize(
    ("attack", "loft", "per_degree"),
    [(0, 14, 4.0), (-4, 25, 1.86), (-5, 36, 1.23)],
    ids=["driver", "7", "PW"],
)
def test_tilt_per_degree_of_face_against_path(attack: float, loft: float, per_degree: float) -> None:
    found = flight(path_deg=0, face_deg=1, attack_deg=attack, dynamic_loft_deg=loft)
    # Computed for the facts table (K), printed there to two or three figures.
    assert found.axis_tilt_deg == pytest.approx(per_degree, abs=0.05)


@given(path=angles, face=angles, club=st.sampled_from(sorted(FACE_SHARE)))
def test_mirror_image(path: float, face: float, club: str) -> None:
    share = FACE_SHARE[club]
    one = flight(path_deg=path, face_deg=face, attack_deg=-3, dynamic_loft_deg=30, face_share=share)
    other = flight(path_deg=-path, face_deg=-face, attack_deg=-3, dynamic_loft_deg=30, face_share=share)
    assert other.start_deg == pytest.approx(-one.start_deg)
    assert other.axis_tilt_deg == pytest.approx(-one.axis_tilt_deg)
    assert other.starts == tuple(MIRROR[side] for side in reversed(one.starts))
    assert set(flight_words(one, "right").replace("between ", "").replace(" and ", ", ").split(", ")) == set(
        flight_words(other, "left").replace("between ", "").replace(" and ", ", ").split(", ")
    )


@given(path=angles)
def test_a_face_square_to_the_path_has_no_tilt(path: float) -> None:
    found = flight(path_deg=path, face_deg=path, attack_deg=-4, dynamic_loft_deg=25)
    assert found.axis_tilt_deg == pytest.approx(0, abs=1e-9)
    assert found.curve == "straight"


def test_a_start_that_the_published_span_of_shares_leaves_open_is_between() -> None:
    # 0.88, 2.00, 2.64 degrees with shares 0.61, 0.75, 0.83: straight or push.
    low = flight(path_deg=-4, face_deg=4, attack_deg=-4, dynamic_loft_deg=25, face_share=0.61)
    high = flight(path_deg=-4, face_deg=4, attack_deg=-4, dynamic_loft_deg=25, face_share=0.83)
    assert (low.start, low.starts) == ("between", ("straight", "right"))
    assert flight_words(low, "right") == "between slice and push slice"
    assert flight_words(high, "right") == "push slice"


@pytest.mark.parametrize("gap", [-0.7, -0.3, 0.3, 0.7])
def test_a_curve_near_the_border_is_between(gap: float) -> None:
    found = flight(path_deg=4, face_deg=4 + gap, attack_deg=-4, dynamic_loft_deg=25)
    assert found.curve == "between"
    assert flight_words(found, "right") == (
        "between push and push fade" if gap > 0 else "between push draw and push"
    )


def sign(value: float, near: float) -> str:
    return "straight" if abs(value) <= near else "right" if value > 0 else "left"


@given(path=angles, face=angles, share=st.floats(0.61, 0.83))
def test_what_is_inferred_back_was_so(path: float, face: float, share: float) -> None:
    start = path + share * (face - path)
    seen = (sign(start, 1.0), sign(face - path, 0.5))
    found = infer_signs(*seen)
    assert found.face_to_path == seen[1]
    if found.face_to_target is not None:
        assert found.face_to_target == sign(face, 0.0 if seen[0] != "straight" else 1.5)
    if found.path_to_target is not None:
        assert found.path_to_target == sign(path, 0.0 if seen[0] != "straight" else 1.5)


def test_the_two_inferences_of_the_facts() -> None:
    pull_slice, push_slice = infer_signs("left", "right"), infer_signs("right", "right")
    assert (pull_slice.path_to_target, pull_slice.face_to_target) == ("left", None)
    assert (push_slice.face_to_target, push_slice.path_to_target) == ("right", None)
    assert pull_slice.face_to_path == push_slice.face_to_path == "right"


def test_little_is_inferred_from_little() -> None:
    assert infer_signs("left", None) == infer_signs(None, None) == infer_signs("left", "right", centred=False)
    assert infer_signs(None, "left").face_to_path == "left"
    assert infer_signs("straight", "right").face_to_target is None


def test_lead_is_left_for_a_right_hander() -> None:
    assert [lead_or_trail("left", hand) for hand in ("right", "left")] == ["lead", "trail"]
    assert [lead_or_trail("right", hand) for hand in ("right", "left")] == ["trail", "lead"]
    assert lead_or_trail("straight", "left") == "straight"


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"path_deg": 60}, r"path_deg must be in -45\.\.45, got 60"),
        ({"face_deg": math.nan}, "face_deg"),
        ({"attack_deg": 31}, "attack_deg"),
        ({"dynamic_loft_deg": -1}, "dynamic_loft_deg"),
        ({"face_share": 1.5}, r"face_share must be in 0\.\.1, got 1\.5"),
    ],
)
def test_ranges_are_checked(wrong: dict[str, float], words: str) -> None:
    good = {"path_deg": 0.0, "face_deg": 0.0, "attack_deg": 0.0, "dynamic_loft_deg": 20.0}
    with pytest.raises(ValueError, match=words):
        flight(**(good | wrong))


def test_unknown_sides_and_vectors_without_length_are_refused() -> None:
    with pytest.raises(ValueError, match="start must be one of"):
        infer_signs("up", "left")
    with pytest.raises(ValueError, match="handedness"):
        shape_name("left", "left", "mild", "both")
    with pytest.raises(ValueError, match="velocity must be a vector with a length"):
        axis_tilt_deg(np.zeros(3), np.array([1.0, 0.0, 0.0]))
    assert axis_tilt_deg(np.array([1.0, 0.0, 0.0]), np.array([2.0, 0.0, 0.0])) == 0
