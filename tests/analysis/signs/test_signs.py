"""Signs from exact tracks: the built-in fault is seen, a clean swing shows none."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.metrics import measure
from analysis.signs import find_signs
from analysis.signs.evaluate import support
from analysis.signs.rules import KEYS, RULES
from analysis.types import CANT_TELL, LIKELY, NOT_SEEN, POSSIBLE, Metric
from tests.analysis.conftest import truth_tracks

BUILT_IN = {
    "fo_early": "early_release",
    "dtl_steep": "steep_plane",
    "dtl_over_top": "over_the_top",
    "dtl_early_ext": "early_extension",
    "fo_sway": "sway",
    "fo_poor_hinge": "poor_hinge",
}


def _levels(name: str) -> dict[str, str]:
    tracks, events = truth_tracks(name)
    return {k: s.level for k, s in find_signs(measure(tracks, events), events, tracks.view).items()}


def test_all_twelve_patterns_have_an_answer() -> None:
    assert set(_levels("fo_none")) == set(KEYS)
    assert len(KEYS) == 12


@pytest.mark.parametrize(("name", "key"), BUILT_IN.items())
def test_the_built_in_fault_is_likely_and_no_other(name: str, key: str) -> None:
    likely = {k for k, level in _levels(name).items() if level == LIKELY}
    assert likely == {key}


@pytest.mark.parametrize(
    ("name", "key"), [("fo_stalled", "stalled_finish"), ("fo_reverse", "reverse_spine_tilt")]
)
def test_weaker_pictures_of_a_fault_are_at_least_possible(name: str, key: str) -> None:
    assert _levels(name)[key] in (LIKELY, POSSIBLE)


@pytest.mark.parametrize("name", ["fo_none", "fo_left", "dtl_none", "dtl_left"])
def test_a_clean_swing_shows_nothing_likely(name: str) -> None:
    assert set(_levels(name).values()) <= {NOT_SEEN, POSSIBLE, CANT_TELL}


def test_a_sign_of_the_other_view_cant_be_told_and_says_so() -> None:
    tracks, events = truth_tracks("fo_none")
    sign = find_signs(measure(tracks, events), events, "face_on")["steep_plane"]
    assert (sign.level, sign.p, sign.note) == (CANT_TELL, None, "needs the down-the-line view")


def test_a_missing_metric_gives_its_reason() -> None:
    tracks, events = truth_tracks("fo_none")
    metrics = measure(tracks, events)
    metrics["trunk_tilt_top"] = Metric("trunk_tilt_top", "deg", reason="the left hip is hidden at top")
    sign = find_signs(metrics, events, "face_on")["reverse_spine_tilt"]
    assert (sign.level, sign.note) == (CANT_TELL, "the left hip is hidden at top")


def test_evidence_points_at_frames_and_sources() -> None:
    tracks, events = truth_tracks("fo_early")
    sign = find_signs(measure(tracks, events), events, "face_on")["early_release"]
    first = sign.evidence[0]
    assert first.metric == "arm_shaft_lead_arm_parallel_down"
    assert first.times_s == (events["lead_arm_parallel_down"].t_s,)
    assert first.source
    assert first.grade


def test_a_wider_error_makes_a_sign_less_sure() -> None:
    tracks, events = truth_tracks("fo_sway")
    metrics = measure(tracks, events)
    draws = metrics["pelvis_shift_top"].samples
    assert draws is not None
    blurred = draws[0] + (draws - draws[0]) * 6
    wide = metrics | {
        "pelvis_shift_top": Metric("pelvis_shift_top", "%", float(draws[0]), 20.0, samples=blurred)
    }
    sure = find_signs(metrics, events, "face_on")["sway"].p
    unsure = find_signs(wide, events, "face_on")["sway"].p
    assert sure is not None
    assert unsure is not None
    assert unsure < sure


def test_support_runs_in_either_direction() -> None:
    values = np.array([0.0, 5.0, 10.0, 20.0])
    np.testing.assert_allclose(support(values, (5.0, 15.0)), [0, 0, 0.5, 1])
    np.testing.assert_allclose(support(values, (15.0, 5.0)), [1, 1, 0.5, 0])


def test_reverse_tilt_carries_the_back_caution() -> None:
    tracks, events = truth_tracks("fo_reverse")
    assert "clinician" in find_signs(measure(tracks, events), events, "face_on")["reverse_spine_tilt"].note


def test_every_term_names_source_and_grade() -> None:
    for rule in RULES:
        for term in rule.terms:
            assert term.source
            assert set(term.grade.split("/")) <= {"S", "S2", "M", "C", "K"}
