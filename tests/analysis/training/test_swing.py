"""A rendered swing does what its parameters say."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.training.body import BODIES, MIXED_BODIES, load_body
from analysis.training.events import Motion, motion_of, true_events
from analysis.training.figures import MEANING, address_reference, figures
from analysis.training.keys import swing_keys
from analysis.training.landmarks import landmarks, mirrored
from analysis.training.parameters import FAULTS, Faults, SwingParameters
from analysis.training.set_pieces import _range_pieces
from analysis.training.swing import BALL_RADIUS_M, Swing, club_axes, shaft_lean_deg

Case = tuple[Swing, Motion, dict[str, float | None]]


@pytest.fixture(scope="module")
def case() -> Case:
    swing = Swing(SwingParameters())
    motion = motion_of(swing)
    return swing, motion, true_events(swing, motion)


@pytest.mark.unit
def test_the_clubhead_meets_the_ball_with_its_face_to_the_target(case: Case) -> None:
    swing, _, events = case
    pose = swing.pose_at(events["impact"] or 0.0)
    assert swing.miss_m < 0.001
    assert np.linalg.norm(pose.head - swing.contact) < 0.003
    assert shaft_lean_deg(pose) == pytest.approx(7.0, abs=0.3)
    assert club_axes(pose)[0, 1] > 0.9


@pytest.mark.unit
def test_events_come_in_order_with_the_asked_times(case: Case) -> None:
    swing, _, events = case
    order = [t for t in events.values() if t is not None]
    assert order == sorted(order)
    assert len(order) == len(events)
    # Backswing and downswing of tournament professionals, 0.80 s and 0.27 s (Grober & Cholewicki 2006).
    assert events["impact"] == pytest.approx(swing.clock.impact, abs=0.005)
    assert (events["top"] or 0) - swing.clock.address == pytest.approx(0.80, abs=0.03)


@pytest.mark.unit
def test_club_and_feet_keep_their_lengths(case: Case) -> None:
    swing, _, _ = case
    for t in np.linspace(0, 2.4, 9):
        pose = swing.pose_at(float(t))
        assert np.linalg.norm(pose.head - pose.butt) == pytest.approx(swing.p.club_length)
        assert pose.feet_gap < 0.008
        turns = pose.rotations
        assert np.allclose(turns @ turns.transpose(0, 2, 1), np.eye(3), atol=1e-8)


@pytest.mark.unit
def test_figures_have_a_meaning_each_and_start_at_nothing(case: Case) -> None:
    swing, motion, events = case
    reference = address_reference(swing, motion, events)
    address = events["address"] or 0.0
    values = figures(swing, swing.pose_at(address), reference, address)
    assert set(values) == set(MEANING)
    for name in ("pelvis_shift_x", "pelvis_shift_y", "head_shift_x"):
        assert values[name] == pytest.approx(0, abs=1e-9)
    assert 165 < (values["lead_elbow"] or 0) < 180


@pytest.mark.unit
@pytest.mark.parametrize("name", [*BODIES, *MIXED_BODIES])
def test_bodies_are_people(name: str) -> None:
    body = load_body(name)
    assert 1.4 < body.height < 2.0
    assert np.allclose(body.weights.sum(1), 1, atol=1e-5)
    count = len(body.labels)
    assert np.allclose(body.skin(np.tile(np.eye(3), (count, 1, 1)), body.heads), body.rest)


@pytest.mark.unit
@pytest.mark.parametrize("name", ["m_tall", "f_heavy", "junior"])
def test_mixed_bodies_swing_too(name: str) -> None:
    """Small golfers have the same club as tall ones: theirs meets the ball, if not in its middle."""
    swing = Swing(SwingParameters(body=name))
    assert swing.miss_m < BALL_RADIUS_M
    assert max(swing.pose_at(float(t)).feet_gap for t in np.linspace(0, 2.4, 5)) < 0.008


@pytest.mark.unit
def test_the_stick_lies_as_turned_or_not_at_all() -> None:
    swing = Swing(SwingParameters())
    count = len(list(_range_pieces(swing, 1, None)))
    pieces = list(_range_pieces(swing, 1, 3.0))
    assert len(pieces) == count + 1
    (stick,) = (mesh.vertices for mesh, _, _ in pieces if np.ptp(mesh.vertices[:, 2]) < 0.02)
    first, last = stick[stick[:, 0].argmin()], stick[stick[:, 0].argmax()]
    assert np.degrees(np.arctan2(*(last - first)[[1, 0]])) == pytest.approx(3.0, abs=0.6)


@pytest.mark.unit
def test_landmarks_mirror_by_name(case: Case) -> None:
    swing, _, _ = case
    names = list(landmarks(swing.body, swing.pose_at(0.0)))
    assert mirrored(mirrored(names)) == names
    assert mirrored(["coco_left_wrist", "pelvis"]) == ["coco_right_wrist", "pelvis"]


@pytest.mark.unit
def test_a_fault_changes_the_keys_and_a_wrong_one_is_refused() -> None:
    clean = swing_keys(SwingParameters())
    for fault in FAULTS[1:]:
        assert swing_keys(SwingParameters(fault=fault)) != clean
        assert swing_keys(SwingParameters(fault=fault, amount=0.0)) == clean
    with pytest.raises(ValueError, match="fault must be one of"):
        Faults.one("shank", 1.0)
    with pytest.raises(ValueError, match="duration must be at least"):
        SwingParameters(duration=1.0)
