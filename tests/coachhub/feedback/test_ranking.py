"""Worked cases of coaches' practice (common practice, no study), on rows as the site has them."""

from __future__ import annotations

from datetime import timedelta

import pytest

from analysis.causes import cause_map
from analysis.causes.care import BODY
from coachhub.feedback.domain.eye import LOOKS, observe, so_and_not_so, take_back
from coachhub.feedback.domain.finding import save_finding
from coachhub.feedback.domain.library import suggest
from coachhub.feedback.domain.questions import answer_question, ask_student, read_answer
from coachhub.feedback.domain.ranking import case_of, suggest_roots
from coachhub.feedback.domain.reviews import claim_review
from coachhub.feedback.models import Observation, Question, Review
from coachhub.swings.domain.judgements import judge_sign
from coachhub.swings.models import SignFlag
from coachhub.videos.enums import Intent
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def a_case(cast: Cast, *, signs: tuple[str, ...] = (), view: str = "face_on", **fields: object) -> Review:
    """A review that the coach holds, on a submission with one swing whose named signs the coach confirmed."""
    submission = factories.make_submission(cast.student, cast.cohort, **{"intents": [], **fields})
    swing = factories.make_swing(factories.make_clip(submission, view=view))
    for sign in signs:
        judge_sign(swing, sign, "agree", by=cast.coach, now=NOW)
    return claim_review(factories.make_review(submission), by=cast.coach, now=NOW)


def pull_with_a_lift_idea(cast: Cast, club_class: str) -> Review:
    review = a_case(
        cast,
        signs=("early_release",),
        club_class=club_class,
        miss_start="left",
        miss_curve="none",
        intents=["bel_lift"],
    )
    observe(review, "node", "ds_flat_feet", by=cast.coach, now=NOW)
    return review


def test_a_pull_with_a_hybrid_and_the_idea_to_lift_ranks_that_idea_first(cast: Cast) -> None:
    found = suggest_roots(pull_with_a_lift_idea(cast, "hybrid"))
    first = found.suggestions[0]
    assert (first.root.key, first.root.kind, first.step_words) == ("bel_lift", "idea", "Ask this")
    assert first.step == cause_map().ideas["bel_lift"].ask
    assert first.ask_text == first.step
    assert len(found.suggestions) == 3
    assert {reason.source for reason in first.reasons} & {"seen by the coach", "confirmed by the coach"}
    assert first.mechanism_node in {"ds_early_release", "ds_flat_feet"}
    assert first.root.better_idea == cause_map().ideas["bel_lift"].better_idea


def test_with_a_driver_the_same_answers_never_call_the_upward_strike_the_fault(cast: Cast) -> None:
    found = suggest_roots(pull_with_a_lift_idea(cast, "driver"))
    ways = {key for each in found.suggestions for path in each.root.paths for key in path.nodes}
    assert "im_attack_up_iron" not in ways
    assert any("on the way up" in reason for _, reason in found.set_aside)


def test_a_slice_with_an_open_face_at_the_top_names_the_face_before_the_aim(cast: Cast) -> None:
    review = a_case(cast, view="dtl", miss_start="straight", miss_curve="right", intents=["bel_steerleft"])
    assert suggest_roots(review).roots[0] == "bel_steerleft"
    observe(review, "face_top", "open", by=cast.coach, now=NOW)
    assert suggest_roots(review).roots[:2] == ["bs_cupped_top", "bel_steerleft"]


def test_thin_with_hanging_back_offers_the_two_ideas_that_hold_the_weight_back(cast: Cast) -> None:
    review = a_case(cast, signs=("hanging_back",), miss_start="", miss_curve="", miss_strike="thin")
    assert {"bel_lift", "bel_weightback"} <= set(suggest_roots(review).roots)


def test_a_left_hander_with_the_mirrored_miss_gets_the_same_order(cast: Cast) -> None:
    right = suggest_roots(a_case(cast, miss_start="left", miss_curve="right", signs=("over_the_top",)))
    factories.make_intake(cast.student, handedness="left", created_at=NOW + timedelta(minutes=1))
    left = suggest_roots(a_case(cast, miss_start="right", miss_curve="left", signs=("over_the_top",)))
    assert right.roots == left.roots
    assert [each.root.score for each in right.suggestions] == [each.root.score for each in left.suggestions]


def test_choices_that_are_no_idea_and_empty_reports_count_for_nothing(cast: Cast) -> None:
    review = a_case(cast, miss_start="", miss_curve="", intents=[Intent.NOTHING, Intent.OTHER])
    case = case_of(review, cause_map())
    assert (case.beliefs, case.miss.start, case.miss.curve, case.miss.strike) == ((), None, None, None)
    assert suggest_roots(review).suggestions == ()


@pytest.mark.parametrize(
    ("intake", "submission", "pain"),
    [
        ({"pain": "none"}, {}, False),
        ({"pain": "none"}, {"pain_today": True}, True),
        ({"pain": "past", "pain_sites": []}, {}, None),
        ({"pain": "past", "pain_sites": ["wrist"]}, {}, False),
        ({"pain": "now", "pain_sites": ["back"]}, {}, True),
    ],
)
def test_pain_is_yes_no_or_not_answered(
    cast: Cast, intake: dict[str, object], submission: dict[str, object], pain: bool | None
) -> None:
    factories.make_intake(cast.student, created_at=NOW + timedelta(minutes=1), **intake)
    assert case_of(a_case(cast, **submission), cause_map()).pain is pain


def test_likely_signs_count_until_the_coach_says_otherwise(cast: Cast) -> None:
    submission = factories.make_submission(
        cast.student, cast.cohort, intents=[], miss_start="", miss_curve=""
    )
    swing = factories.make_swing(factories.make_clip(submission), signs={"sway": "likely"})
    SignFlag.objects.filter(sign="sway").update(probability=0.9)
    review = claim_review(factories.make_review(submission), by=cast.coach, now=NOW)
    assert "bs_sway" in suggest_roots(review).roots
    judge_sign(swing, "sway", "cant_tell", by=cast.coach, now=NOW)
    assert suggest_roots(review).roots == []
    judge_sign(swing, "sway", "not_this", by=cast.coach, now=NOW)
    assert "bs_sway" in case_of(review, cause_map()).ruled_out or suggest_roots(review).roots == []
    judge_sign(swing, "sway", "agree", by=cast.coach, now=NOW)
    assert "bs_sway" in suggest_roots(review).roots


def test_what_the_eye_saw_counts_like_a_confirmed_sign(cast: Cast) -> None:
    by_sign = suggest_roots(a_case(cast, signs=("early_release",)))
    by_eye = a_case(cast)
    observe(by_eye, "node", "ds_early_release", by=cast.coach, now=NOW)
    found = suggest_roots(by_eye)
    assert [(each.root.key, each.root.score) for each in found.suggestions] == [
        (each.root.key, each.root.score) for each in by_sign.suggestions
    ]


def test_a_second_word_on_a_look_replaces_the_first_and_a_frame_outside_the_swing_is_none(cast: Cast) -> None:
    review = a_case(cast)
    swing = review.submission.clips.get().swings.get()
    observe(review, "wrist_top", "cupped", by=cast.coach, swing=swing, at_us=1_200_000, now=NOW)
    assert case_of(review, cause_map()).observations == ("bs_cupped_top",)
    seen = observe(review, "wrist_top", "flat", by=cast.coach, swing=swing, at_us=9_000_000, now=NOW)
    assert Observation.objects.get() == seen and seen.at_us is None
    assert case_of(review, cause_map()).ruled_out == ("bs_cupped_top",)
    take_back(seen, by=cast.coach, now=NOW)
    assert case_of(review, cause_map()).ruled_out == ()


def test_every_look_speaks_of_nodes_that_are_on_the_map_with_its_own_letter() -> None:
    nodes = cause_map().nodes
    assert len({look.letter for look in LOOKS}) == len(LOOKS)
    for look in LOOKS:
        assert len(look.choices) <= 9
        for choice in look.choices:
            assert {*choice.so, *choice.not_so} <= set(nodes)
    assert so_and_not_so([Observation(look="gone", value="whatever")]) == ((), ())


def test_the_students_answer_changes_the_order_and_the_coachs_reading_of_it_too(cast: Cast) -> None:
    review = a_case(cast, signs=("hanging_back",), miss_start="", miss_curve="", miss_strike="thin")
    before = suggest_roots(review)
    second = before.roots.index("bel_weightback")
    assert second > 0
    ask_student(review, "Where is your weight?", by=cast.coach, node="bel_weightback", now=NOW)
    question = Question.objects.get()
    later = NOW + timedelta(hours=3)
    answer_question(question, by=cast.student, text="On the right", chosen=["bel_weightback"], now=later)
    question.refresh_from_db()
    assert question.answer is not None and "On the right" in question.answer.text
    review.refresh_from_db()
    assert review.due_at is not None, "the clock runs again"
    assert suggest_roots(review).roots[0] == "bel_weightback"
    read_answer(question, "not_so", by=cast.coach, now=later)
    assert "bel_weightback" not in suggest_roots(review).roots


def test_a_body_root_gets_the_safety_sentence_and_no_drill(cast: Cast) -> None:
    review = a_case(cast, signs=("early_release",))
    factories.make_drill("two-dips", sign="early_release")
    assert suggest(review).offered
    save_finding(review, {"root_kind": "body", "root_node": "body_grip_strength"})
    found = suggest(review)
    assert (found.offered, found.care) == ((), BODY)
    assert not next(
        (each.root.may_drill for each in suggest_roots(review).suggestions if each.root.kind == "body"), False
    )


def test_a_view_that_was_not_filmed_is_asked_for_in_a_sentence_to_the_student(cast: Cast) -> None:
    review = a_case(
        cast, view="dtl", signs=("hanging_back",), miss_start="", miss_curve="", miss_strike="thin"
    )
    steps = {each.step_words: each.ask_text for each in suggest_roots(review).suggestions}
    assert "Film that view" in steps, steps
    assert steps["Film that view"].startswith("Please film your next swings face-on")
