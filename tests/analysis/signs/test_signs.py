"""Signs from exact tracks: the built-in fault is seen, a clean swing shows none."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.metrics import measure
from analysis.metrics.registry import ALL
from analysis.readout import read_swing
from analysis.signs import find_signs
from analysis.signs.bands import Bands, checked, limits, terms_by_name
from analysis.signs.evaluate import OFF_NOTE
from analysis.signs.rules import KEYS, RULES, SignRule
from analysis.signs.stored import judge_stored
from analysis.types import CANT_TELL, EVENTS, LIKELY, NOT_SEEN, VIEWS, EventTime, Metric, Sign
from tests.analysis.conftest import truth_tracks

BUILT_IN = {
    "fo_early": "early_release",
    "dtl_steep": "steep_plane",
    "dtl_over_top": "over_the_top",
    "dtl_early_ext": "early_extension",
    "fo_sway": "sway",
    "fo_collapse": "lead_arm_collapse",
    # The club is hidden at the top: its place is bridged from the frames before and after.
    "dtl_overlong": "overlong_backswing",
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
    ("name", "key"),
    [
        ("fo_stalled", "stalled_finish"),
        ("fo_reverse", "reverse_spine_tilt"),
        ("fo_poor_hinge", "poor_hinge"),
    ],
)
def test_these_faults_are_likely_too_whatever_they_drag_along(name: str, key: str) -> None:
    assert _levels(name)[key] == LIKELY


@pytest.mark.parametrize("name", ["fo_none", "fo_left", "dtl_none", "dtl_left"])
def test_a_clean_swing_shows_nothing(name: str) -> None:
    assert set(_levels(name).values()) <= {NOT_SEEN, CANT_TELL}


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
    shift = metrics["pelvis_shift_top"]
    wide = metrics | {"pelvis_shift_top": replace(shift, se=20.0)}
    sure = find_signs(metrics, events, "face_on")["sway"].p
    unsure = find_signs(wide, events, "face_on")["sway"].p
    assert sure is not None
    assert unsure is not None
    assert 0.5 < unsure < sure


def test_reverse_tilt_carries_the_back_caution() -> None:
    tracks, events = truth_tracks("fo_reverse")
    assert "clinician" in find_signs(measure(tracks, events), events, "face_on")["reverse_spine_tilt"].note


def test_every_term_names_source_and_grade() -> None:
    for rule in RULES:
        for term in rule.terms:
            assert term.source
            assert set(term.grade.split("/")) <= {"S", "S2", "M", "C", "K"}


# What must hold of every rule, on numbers out of the blue.

UNITS = {spec.name: spec.unit for spec in ALL}
TIMES = {name: EventTime(0.1 * k, 0.002, "test") for k, name in enumerate(EVENTS)}
rules = st.sampled_from(RULES)
places = st.floats(-1.5, 2.5)
errors = st.floats(0, 2)


def at(rule: SignRule, place: float, error: float = 0.3) -> dict[str, Metric]:
    """Numbers at ``place`` of each grey zone (0 its start, 1 its end), errors in shares of its width."""
    found = {spec.name: Metric(spec.name, spec.unit, reason="not in this test") for spec in ALL}
    for term in rule.terms:
        width = term.grey[1] - term.grey[0]
        found[term.metric] = Metric(
            term.metric, UNITS[term.metric], term.grey[0] + place * width, error * abs(width), ("top",)
        )
    return found


def judged(rule: SignRule, metrics: dict[str, Metric], **options: float) -> Sign:
    return find_signs(metrics, TIMES, rule.view, **options)[rule.key]


def chance(rule: SignRule, metrics: dict[str, Metric]) -> float:
    p = judged(rule, metrics).p
    assert p is not None
    return p


@given(rules, places, places, errors, st.data())
def test_a_sign_never_falls_when_one_number_goes_its_way(
    rule: SignRule, base: float, up: float, error: float, data: st.DataObject
) -> None:
    term = data.draw(st.sampled_from(rule.terms))
    low, high = sorted((base, up))
    metrics = at(rule, base, error)
    first = metrics | {term.metric: at(rule, low, error)[term.metric]}
    second = metrics | {term.metric: at(rule, high, error)[term.metric]}
    assert chance(rule, first) <= chance(rule, second) + 1e-12


@given(rules, places, errors, st.floats(0.5, 2.5))
def test_a_number_that_confirms_never_lowers_a_sign(
    rule: SignRule, base: float, error: float, place: float
) -> None:
    helpers = [term for term in rule.terms if not term.needed]
    for term in helpers:
        without = at(rule, base, error) | {term.metric: Metric(term.metric, "", reason="hidden")}
        added = without | {term.metric: at(rule, place, error)[term.metric]}
        assert chance(rule, added) >= chance(rule, without) - 1e-12


@given(rules, places)
def test_without_a_number_it_needs_it_cant_be_told(rule: SignRule, place: float) -> None:
    for term in (term for term in rule.terms if term.needed):
        sign = judged(rule, at(rule, place) | {term.metric: Metric(term.metric, "", reason="hidden")})
        assert (sign.level, sign.p, sign.limit, sign.note) == (CANT_TELL, None, "missing", "hidden")


@given(rules)
def test_far_numbers_are_plain_and_near_ones_clear(rule: SignRule) -> None:
    assert judged(rule, at(rule, 2.0)).level == LIKELY
    assert judged(rule, at(rule, -1.0)).level == NOT_SEEN


@given(rules, places)
def test_too_few_frames_a_second_cant_tell_and_enough_can(rule: SignRule, place: float) -> None:
    slow = judged(rule, at(rule, place), fps=0.8 * rule.least_fps)
    assert (slow.level, slow.p, slow.limit) == (CANT_TELL, None, "fps")
    assert f"{rule.least_fps:.0f} or more" in slow.note
    # Cameras that call it 60 film 59.94.
    assert judged(rule, at(rule, place), fps=0.999 * rule.least_fps).p == chance(rule, at(rule, place))


def test_every_rule_names_its_frames_and_says_what_its_view_cant_show() -> None:
    for rule in RULES:
        assert rule.frames
        assert set(rule.frames) <= set(EVENTS)
        assert rule.limits.endswith(".")
        assert rule.least_fps >= 25
        sign = judged(rule, at(rule, 1.0))
        assert sign.frames == tuple((name, TIMES[name].t_s) for name in rule.frames)


def test_every_rule_needs_something_and_knows_its_numbers() -> None:
    for rule in RULES:
        assert any(term.needed for term in rule.terms)
        for term in rule.terms:
            spec = next(spec for spec in ALL if spec.name == term.metric and rule.view in spec.views)
            assert set(spec.at) <= set(EVENTS)
    assert {rule.view for rule in RULES} == set(VIEWS)


# A camp's bands.


def test_one_number_of_a_sign_has_one_band_in_both_views() -> None:
    for rule in RULES:
        for term in rule.terms:
            assert terms_by_name()[rule.key, term.metric].grey == term.grey


@given(rules, st.floats(0, 1), st.floats(0, 1), st.data())
def test_bands_within_the_limits_are_taken_and_move_the_sign_their_way(
    rule: SignRule, a: float, b: float, data: st.DataObject
) -> None:
    term = data.draw(st.sampled_from(rule.terms))
    low, high = limits(term)
    ends = sorted((low + a * (high - low), low + b * (high - low)), reverse=term.grey[0] > term.grey[1])
    zone = (ends[0], ends[1])
    narrow = abs(zone[1] - zone[0]) < 0.26 * abs(term.grey[1] - term.grey[0])
    if narrow:
        return
    bands = Bands({(rule.key, term.metric): checked(term, zone)})
    metrics = at(rule, 0.5, 0.0)
    stricter = (sum(zone) - sum(term.grey)) * (term.grey[1] - term.grey[0]) > 0
    sign = find_signs(metrics, TIMES, rule.view, bands=bands)[rule.key]
    assert sign.p is not None
    assert sign.bands == "camp"
    if stricter:
        assert sign.p <= chance(rule, metrics) + 1e-12
    else:
        assert sign.p >= chance(rule, metrics) - 1e-12


@pytest.mark.parametrize(
    ("zone", "said"),
    [
        ((-14.0, -60.0), "both ends must lie in -34..-2"),
        ((-22.0, -14.0), "the first end must lie above the second"),
        ((-14.0, -14.5), "at least 2 apart"),
        ((float("nan"), -22.0), "both ends"),
    ],
)
def test_bands_beyond_the_limits_are_refused(zone: tuple[float, float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        checked(terms_by_name()["sway", "pelvis_shift_top"], zone)


def test_bands_survive_storage_and_forget_what_no_longer_exists() -> None:
    bands = Bands({("sway", "pelvis_shift_top"): (-10.0, -20.0)}, frozenset({"slide"}))
    stored = bands.to_json()
    assert stored == {"sway": {"grey": {"pelvis_shift_top": [-10.0, -20.0]}}, "slide": {"off": True}}
    assert Bands.from_json(stored) == bands
    old = {"gone": {"off": True}, "sway": {"grey": {"gone": [1, 2], "pelvis_shift_top": [-14, -900]}}}
    assert Bands.from_json(old) == Bands()


@pytest.mark.parametrize("name", ["fo_early", "fo_none", "dtl_steep"])
def test_a_stored_readout_is_judged_as_the_measured_one(name: str) -> None:
    tracks, events = truth_tracks(name)
    readout = read_swing(tracks, events, number=1, start_s=0, end_s=1, fps=tracks.fps).to_json()
    again = judge_stored(readout, Bands())
    for key, sign in readout["signs"].items():
        assert again[key]["level"] == sign["level"]
        assert again[key]["p"] == pytest.approx(sign["p"], abs=2e-3)
        assert again[key]["frames"] == sign["frames"]


def test_a_camp_that_does_not_look_for_a_sign_is_not_told_of_it() -> None:
    tracks, events = truth_tracks("fo_early")
    readout = read_swing(tracks, events, number=1, start_s=0, end_s=1, fps=tracks.fps).to_json()
    signs = judge_stored(readout, Bands(off=frozenset({"early_release"})))
    sign = signs["early_release"]
    assert (sign["level"], sign["p"], sign["note"], sign["limit"]) == (CANT_TELL, None, OFF_NOTE, "off")
    assert sign["bands"] == "camp"
    assert signs["sway"]["bands"] == "shipped"


def test_an_older_readout_without_a_number_says_so() -> None:
    tracks, events = truth_tracks("fo_none")
    readout = read_swing(tracks, events, number=1, start_s=0, end_s=1, fps=tracks.fps).to_json()
    del readout["metrics"]["pelvis_shift_top"], readout["stretch"]
    sway = judge_stored(readout, Bands())["sway"]
    assert sway["level"] == CANT_TELL
    assert "older version" in sway["note"]
    with pytest.raises(ValueError, match="measured swing"):
        judge_stored({"view": None}, Bands())
