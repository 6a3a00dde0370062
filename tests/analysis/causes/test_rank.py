"""Worked cases of coaches' practice (common practice, no study), and what must hold of every ranking."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from analysis.causes import Case, Edge, Miss, Ranking, SeenSign, cause_map, rank
from analysis.causes.care import BACK_FIRST, BODY, PAIN
from analysis.causes.evidence import SIGN_NODES
from analysis.causes.paths import GRADE, RELATION, edge_id, edges_onward, strongest_paths
from analysis.signs.rules import KEYS
from tests.analysis.causes.cases import (
    cases,
    mirrored,
    pull_with_a_lift_idea,
    slice_with_an_open_face,
    thin_with_hanging_back,
)

pytestmark = pytest.mark.unit
ALL = 99
few = settings(max_examples=60, deadline=None)


def keys(ranking: Ranking) -> list[str]:
    return [root.key for root in ranking.roots]


def nodes_on_paths(ranking: Ranking) -> set[str]:
    return {node for root in ranking.roots for path in root.paths for node in path.nodes}


# Worked cases ---------------------------------------------------------------------------------------------


def test_pull_with_a_hybrid_puts_the_lift_idea_first_and_asks_its_question() -> None:
    found = rank(pull_with_a_lift_idea("hybrid"))
    first = found.roots[0]
    assert (first.key, first.kind) == ("bel_lift", "idea")
    assert first.question.how == "ask"
    assert first.question.text == cause_map().ideas["bel_lift"].ask
    assert first.better_idea == cause_map().ideas["bel_lift"].better_idea
    assert len(found.roots) == 3 and found.further > 0
    explained = {part.observed.node: part.path.ids for part in first.contributions}
    assert explained["ds_early_release"] == ("bel_lift>ds_early_release",)
    assert explained["ds_flat_feet"] == ("bel_lift>ds_flat_feet",)
    assert explained["bf_pull"][-1] == "im_face_closed_target>bf_pull"
    assert explained["bel_lift"] == ()
    assert first.score > 1.5 * found.roots[1].score


def test_with_a_driver_the_same_answers_never_make_an_upward_strike_the_fault() -> None:
    case = pull_with_a_lift_idea("driver")
    found = rank(replace(case, miss=Miss("left", "none", strike="thin")), shown=ALL)
    assert "im_attack_up_iron" not in nodes_on_paths(found)
    assert all(root.clue.node != "im_attack_up_iron" for root in found.roots if root.clue)
    lift = next(root for root in found.roots if root.key == "bel_lift")
    assert all(part.path.edges for part in lift.contributions), "the answer alone is no evidence"
    assert lift.better_idea == cause_map().ideas["bel_lift"].better_idea_driver
    assert [(each.node, "on the way up" in each.reason) for each in found.set_aside] == [("bel_lift", True)]


def test_an_upward_strike_counts_with_an_iron_and_is_set_aside_with_a_driver() -> None:
    seen = ("im_attack_up_iron",)
    assert keys(rank(Case("iron", observations=seen)))[0] == "bel_lift"
    driver = rank(Case("driver", observations=seen))
    assert driver.roots == ()
    assert [each.node for each in driver.set_aside] == ["im_attack_up_iron"]


def test_slice_with_an_open_face_names_the_face_before_the_aim() -> None:
    found = rank(slice_with_an_open_face())
    assert keys(found)[:2] == ["bs_cupped_top", "bel_steerleft"]
    assert "set_grip_weak" in keys(found)
    aim = found.roots[1]
    assert aim.question.text == cause_map().ideas["bel_steerleft"].ask
    assert [edge_id(edge) for edge in aim.taught_by] == ["bf_slice>bel_steerleft"]
    face = {part.observed.node: part for part in found.roots[0].contributions}
    assert face["bf_slice"].path.grades == ("C", "S")
    grip = next(root for root in found.roots if root.key == "set_grip_weak")
    assert grip.question.how == "photo"


def test_thin_with_hanging_back_asks_the_two_ideas_that_hold_the_weight_back() -> None:
    found = rank(thin_with_hanging_back())
    assert keys(found)[:2] == ["bel_lift", "bel_weightback"]
    assert [root.question.how for root in found.roots[:2]] == ["ask", "ask"]
    assert [edge_id(edge) for edge in found.roots[0].taught_by] == ["bf_thin>bel_lift"]
    seen_tilt = replace(
        thin_with_hanging_back(),
        signs=(*thin_with_hanging_back().signs, SeenSign("early_release", "confirmed")),
    )
    assert keys(rank(seen_tilt))[0] == "bel_lift"


@pytest.mark.parametrize(
    ("answer", "first"), [("bel_weightback", "bel_weightback"), ("bel_lift", "bel_lift")]
)
def test_the_students_answer_decides_between_two_ideas(answer: str, first: str) -> None:
    assert keys(rank(replace(thin_with_hanging_back(), beliefs=(answer,))))[0] == first


@pytest.mark.parametrize(
    ("sign", "roots"),
    [
        # Typical causes of each pattern as coaches tell them (C).
        ("early_release", {"bel_lift", "bel_armspower", "bs_poor_hinge", "bs_overlong", "set_grip_palm"}),
        ("over_the_top", {"bs_inside_takeaway", "bel_shoulders_first", "bs_reverse_tilt"}),
        ("poor_hinge", {"set_grip_palm"}),
        ("overlong_backswing", {"bel_bigturn", "body_grip_strength"}),
        ("hanging_back", {"bel_lift", "bel_weightback"}),
        ("early_extension", {"body_lead_hip_ir", "body_ankle_squat", "set_ball_close", "set_ball_far"}),
        ("reverse_spine_tilt", {"bel_headdown", "bs_sway", "set_posture_s"}),
        ("stalled_finish", {"bel_headdown"}),
        ("sway", {"bs_trail_knee_straight"}),
    ],
)
def test_each_sign_leads_to_its_typical_roots(sign: str, roots: set[str]) -> None:
    found = rank(Case("iron", signs=(SeenSign(sign, "confirmed"),)), shown=ALL)
    others = [key for key in keys(found) if key != SIGN_NODES[sign]]
    assert set(others[: len(roots) + 3]) >= roots


# What a coach needs beside the order ---------------------------------------------------------------------


def test_a_root_that_needs_another_view_asks_for_it() -> None:
    slice_only = Case("iron", miss=Miss("left", "right"), views=("face_on",), pain=False)
    asked = {root.key: root.question for root in rank(slice_only, shown=ALL).roots}
    assert (asked["set_open_align"].how, asked["bs_inside_takeaway"].how) == ("film", "film")
    assert "down-the-line" in asked["set_open_align"].text
    both = {
        root.key: root.question
        for root in rank(replace(slice_only, views=("face_on", "dtl")), shown=ALL).roots
    }
    assert both["set_open_align"].how == "look"


def test_a_clue_tells_a_root_from_its_rivals() -> None:
    case = thin_with_hanging_back()
    found = rank(case)
    first = found.roots[0]
    assert first.clue is not None
    with_clue = rank(replace(case, observations=(first.clue.node,)))
    lead = found.roots[0].score - found.roots[1].score
    assert with_clue.roots[0].key == first.key
    assert with_clue.roots[0].score - with_clue.roots[1].score > lead


def test_a_yes_to_the_question_gives_the_promised_place() -> None:
    case = Case("iron", observations=("bs_cupped_top",), miss=Miss("straight", "right"))
    for root in rank(case, shown=5).roots:
        if root.kind != "idea" and root.key not in case.observations:
            after = rank(replace(case, observations=(*case.observations, root.key)), shown=ALL)
            assert keys(after).index(root.key) + 1 == root.rank_if_so


def test_what_no_root_shown_explains_is_named() -> None:
    found = rank(Case("iron", miss=Miss(strike="heel"), observations=("fin_offbalance",)), shown=1)
    assert set(found.unexplained) <= {"im_heel_strike", "fin_offbalance"}
    assert len(found.unexplained) == 1


def test_nothing_known_ranks_nothing() -> None:
    assert rank(Case("iron")) == Ranking((), 0, (), ())


# Care ----------------------------------------------------------------------------------------------------


@few
@given(case=cases())
def test_no_drill_for_the_body_or_with_pain(case: Case) -> None:
    for root in rank(case, shown=ALL).roots:
        if case.pain:
            assert root.care == PAIN
        elif root.kind == "body":
            assert root.care == BODY
            assert root.question.how == "test"
        assert root.may_drill == (root.care == "")
        assert cause_map().nodes[root.key].kind != "health"


def test_a_reverse_tilt_without_an_answer_about_pain_asks_about_the_back_first() -> None:
    case = Case("iron", signs=(SeenSign("reverse_spine_tilt", "likely", 0.9),))
    assert {root.care for root in rank(case, shown=ALL).roots if root.kind != "body"} == {BACK_FIRST}
    assert {r.care for r in rank(replace(case, pain=False), shown=ALL).roots if r.kind != "body"} == {""}


def test_a_load_on_the_back_is_no_symptom_to_explain() -> None:
    found = rank(Case("iron", observations=("risk_lowback",)))
    assert found.roots == ()
    assert "clinician" in found.set_aside[0].reason


# What must hold of every ranking -------------------------------------------------------------------------


@few
@given(case=cases())
def test_the_score_is_the_sum_of_what_is_shown(case: Case) -> None:
    edges = {edge_id(edge) for edge in cause_map().edges}
    for root in rank(case, shown=ALL).roots:
        assert root.score == pytest.approx(math.fsum(part.amount for part in root.contributions))
        for part in root.contributions:
            assert 0 <= part.amount <= part.observed.weight <= 1
            assert set(part.path.ids) <= edges
            ends = (root.key, *part.path.nodes[-1:]) if part.path.edges else (root.key, root.key)
            assert (part.path.nodes or (root.key,))[0] == root.key
            assert ends[1] == part.observed.node
            assert len(set(part.path.nodes)) == len(part.path.nodes), "no way runs in a circle"


@few
@given(case=cases(), key=st.sampled_from(KEYS))
def test_an_added_confirmed_sign_never_lowers_its_cause(case: Case, key: str) -> None:
    node = SIGN_NODES[key]
    assume(all(sign.key != key for sign in case.signs))
    before = rank(case, shown=ALL)
    after = rank(replace(case, signs=(*case.signs, SeenSign(key, "confirmed"))), shown=ALL)
    scores = {root.key: root.score for root in after.roots}
    gains = {root.key: scores[root.key] - root.score for root in before.roots}
    assert all(gain >= -1e-9 for gain in gains.values())
    # The root it points to most keeps or betters its place, and no root it does not point to passes a cause.
    pointed = {
        root.key for root in after.roots if any(part.observed.node == node for part in root.contributions)
    }
    most = max((gain for gain in gains.values()), default=0.0)
    for place, root in enumerate(before.roots):
        if gains[root.key] >= most - 1e-9:
            assert keys(after).index(root.key) <= place + _newcomers(before, after, root.key)
    for cause in pointed & set(gains):
        for other in set(gains) - pointed:
            if keys(before).index(cause) < keys(before).index(other):
                assert keys(after).index(cause) < keys(after).index(other)


def _newcomers(before: Ranking, after: Ranking, key: str) -> int:
    """Roots ahead of ``key`` that were below the least score before."""
    return len(set(keys(after)[: keys(after).index(key)]) - set(keys(before)))


@few
@given(case=cases())
def test_left_handers_mirror_exactly(case: Case) -> None:
    assert rank(case, shown=ALL) == rank(mirrored(case), shown=ALL)


@few
@given(case=cases(("iron",)), other=st.sampled_from(["wedge", "hybrid"]))
def test_a_wedge_and_a_hybrid_are_struck_like_an_iron(case: Case, other: str) -> None:
    assert rank(replace(case, club_class=other), shown=ALL) == rank(case, shown=ALL)


@few
@given(case=cases(("iron",)), other=st.sampled_from(["fairway", "driver"]))
def test_the_club_changes_only_what_it_must(case: Case, other: str) -> None:
    """Parts of a score that no upward strike, ball place, heel strike or half-right idea touches stay."""
    touched = {"im_attack_up_iron", "set_ball_far_fwd", "im_heel_strike"}
    half_right = {"bel_lift", "bel_weightback"}

    def rest(club_class: str) -> dict[tuple[str, str], float]:
        found = rank(replace(case, club_class=club_class), shown=ALL)
        return {
            (root.key, part.observed.node): part.amount
            for root in found.roots
            for part in root.contributions
            if not touched & {root.key, part.observed.node, *part.path.nodes}
            and not (root.key in half_right and not part.path.edges)
        }

    iron, wood = rest("iron"), rest(other)
    ways_may_move = set(iron) ^ set(wood)
    for pair in set(iron) & set(wood):
        assert wood[pair] == pytest.approx(iron[pair])
    for key, node in ways_may_move:
        # A part appears or goes only with a touched way in the other club, or a root around the least score.
        assert node in _reached_by_touched(touched) or _near_least(case, key, other)


def _reached_by_touched(touched: set[str]) -> set[str]:
    onward = edges_onward(cause_map())
    return {node for start in touched for node in strongest_paths(onward, start)}


def _near_least(case: Case, key: str, other: str) -> bool:
    return not all(key in keys(rank(replace(case, club_class=club), shown=ALL)) for club in ("iron", other))


@few
@given(case=cases())
def test_the_same_case_gives_the_same_ranking_in_any_order(case: Case) -> None:
    turned = replace(
        case,
        signs=tuple(reversed(case.signs)),
        observations=tuple(reversed(case.observations)),
        beliefs=tuple(reversed(case.beliefs)),
    )
    one, other = rank(case), rank(turned)
    assert keys(one) == keys(other)
    assert [root.score for root in one.roots] == pytest.approx([root.score for root in other.roots])
    assert len(one.roots) <= 3


@few
@given(case=cases(), key=st.sampled_from(KEYS))
def test_nothing_runs_through_what_the_coach_ruled_out(case: Case, key: str) -> None:
    node = SIGN_NODES[key]
    assume(node not in case.observations)
    signs = (*(sign for sign in case.signs if sign.key != key), SeenSign(key, "dismissed"))
    found = rank(replace(case, signs=signs), shown=ALL)
    assert node not in nodes_on_paths(found) | set(keys(found))


def test_measured_and_not_seen_halves_what_runs_through_it() -> None:
    case = Case("iron", observations=("im_low_point_back",))
    before = {root.key: root.score for root in rank(case, shown=ALL).roots}
    unseen = replace(case, signs=(SeenSign("hanging_back", "not_seen"),))
    after = {root.key: root.score for root in rank(unseen, shown=ALL).roots}
    assert after["bel_weightback"] == pytest.approx(before["bel_weightback"] / 2)
    assert after["bel_armspower"] == pytest.approx(before["bel_armspower"])


def test_of_several_words_for_one_sign_the_coachs_counts() -> None:
    several = (
        SeenSign("sway", "not_seen"),
        SeenSign("sway", "likely", 0.9),
        SeenSign("sway", "dismissed"),
        SeenSign("sway", "confirmed"),
    )
    assert rank(Case("iron", signs=several)) == rank(Case("iron", signs=several[3:]))
    assert rank(Case("iron", signs=several[:3])).roots == ()


# The way through the map against a slow second search ----------------------------------------------------


def all_ways(start: str) -> dict[str, float]:
    """Strength of the strongest way to each node by walking every one of them."""
    best: dict[str, float] = {}

    def walk(key: str, strength: float, been: frozenset[str]) -> None:
        for edge in cause_map().effects_of(key):
            step = strength * RELATION.get(edge.relation, 0.0) * GRADE[edge.grade]
            if step > 0 and edge.effect not in been:
                best[edge.effect] = max(step, best.get(edge.effect, 0.0))
                walk(edge.effect, step, been | {edge.effect})

    walk(start, 1.0, frozenset({start}))
    return best


@pytest.mark.parametrize(
    "start", ["bel_lift", "bel_headdown", "bs_overlong", "set_grip_palm", "body_balance"]
)
def test_the_strongest_way_is_the_best_of_all_ways(start: str) -> None:
    found = strongest_paths(edges_onward(cause_map()), start)
    assert {key: path.strength for key, path in found.items()} == pytest.approx(all_ways(start))


# At the door ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: Case("putter"), "club_class must be one of"),
        (lambda: Case("iron", "both"), "handedness"),
        (lambda: Case("iron", views=("top",)), "views"),
        (lambda: SeenSign("slump", "likely", 0.8), "key must be one of"),
        (lambda: SeenSign("sway", "sure"), "state must be one of"),
        (lambda: SeenSign("sway", "likely"), r"p of a likely sign must be in 0\.\.1, got None"),
        (lambda: Miss(start="up"), "start must be one of"),
        (lambda: Case("iron", observations=("bs_sway",), ruled_out=("bs_sway",)), "must not share"),
        (lambda: rank(Case("iron", observations=("nowhere",))), "observations must be nodes"),
        (lambda: rank(Case("iron", beliefs=("bs_sway",))), "beliefs must be belief nodes"),
        (lambda: rank(Case("iron"), shown=0), "shown must be at least 1"),
    ],
)
def test_a_wrong_case_is_refused_by_name(wrong: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        wrong()  # type: ignore[operator]


def test_a_map_with_a_circle_is_refused() -> None:
    whole = cause_map()
    back = Edge("bf_thin", "bel_lift", "causes", "low balls", "C", "common practice, no study")
    with pytest.raises(ValueError, match="circle"):
        rank(Case("iron"), found=replace(whole, edges=(*whole.edges, back)))


def test_every_sign_and_every_idea_of_the_map_has_its_place() -> None:
    assert set(SIGN_NODES) == set(KEYS)
    assert set(SIGN_NODES.values()) <= set(cause_map().nodes)
    assert set(RELATION) | {"feedback", "reinforces"} == {edge.relation for edge in cause_map().edges}
