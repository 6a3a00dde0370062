from __future__ import annotations

from datetime import date

import pytest

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort
from coachhub.feedback.enums import ReviewState
from coachhub.progress.domain.judged import Status, answered, hit_rates, judged_submissions, state_of
from coachhub.swings.models import SignJudgement, Swing
from coachhub.videos.models import Submission
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.integration

AGREE, NOT_THIS, CANT = "agree", "not_this", "cant_tell"


@pytest.mark.parametrize(
    ("visible", "swings", "expected"),
    [
        (True, [], Status.NOT_CONFIRMED),
        (False, [], Status.CANT_TELL),
        (True, [{AGREE}], Status.CONFIRMED),
        (False, [{AGREE}], Status.CONFIRMED),
        (True, [{NOT_THIS}], Status.DISMISSED),
        (True, [{AGREE, NOT_THIS}], Status.DISPUTED),
        (True, [{AGREE, CANT}], Status.CONFIRMED),
        (True, [{NOT_THIS}, {AGREE}], Status.CONFIRMED),
        (True, [{NOT_THIS}, {AGREE, NOT_THIS}], Status.DISPUTED),
        (True, [{CANT}], Status.NOT_CONFIRMED),
        (False, [{CANT}], Status.CANT_TELL),
    ],
)
def test_the_state_of_a_sign_in_a_submission(visible: bool, swings: list[set[str]], expected: Status) -> None:
    assert state_of(visible=visible, swings=swings) == expected


def answer(
    student: User, cohort: Cohort, day: date = date(2026, 6, 9), *, published: bool = True
) -> Submission:
    submission = factories.make_submission(student, cohort, range_day=day)
    state = (
        {"state": ReviewState.PUBLISHED, "published_at": NOW, "published_by": student} if published else {}
    )
    factories.make_review(submission, **state)
    return submission


def say(swing: Swing, sign: str, verdict: str, by: User) -> None:
    SignJudgement.objects.create(swing=swing, sign=sign, verdict=verdict, by=by, created_at=NOW)


@pytest.fixture
def cohort(db: None) -> Cohort:
    return factories.make_cohort()


def test_flags_and_words_of_an_answer_come_together(cohort: Cohort) -> None:
    student, one, other = factories.make_student(cohort), factories.make_user(), factories.make_user()
    clip = factories.make_clip(answer(student, cohort))
    first = factories.make_swing(
        clip, signs={"sway": "likely", "slide": "cant_tell", "poor_hinge": "not_seen"}
    )
    second = factories.make_swing(
        clip, signs={"sway": "possible", "slide": "cant_tell", "steep_plane": "likely"}
    )
    say(first, "sway", AGREE, one)
    say(second, "steep_plane", AGREE, one)
    say(second, "steep_plane", NOT_THIS, other)
    say(second, "over_the_top", AGREE, one)
    (judged,) = judged_submissions(cohort.camp, answered(cohort.camp, [cohort]))
    assert judged.signs == {
        "over_the_top": Status.CONFIRMED,
        "poor_hinge": Status.NOT_CONFIRMED,
        "slide": Status.CANT_TELL,
        "steep_plane": Status.DISPUTED,
        "sway": Status.CONFIRMED,
    }
    assert (judged.week, judged.student_name) == (2, student.name)


def test_unpublished_answers_and_other_cohorts_do_not_count(cohort: Cohort) -> None:
    student = factories.make_student(cohort)
    answer(student, cohort, published=False)
    elsewhere = factories.make_cohort(cohort.camp)
    answer(factories.make_student(elsewhere), elsewhere)
    assert judged_submissions(cohort.camp, answered(cohort.camp, [cohort])) == []


def test_how_the_machines_flags_fared(cohort: Cohort) -> None:
    student, coach = factories.make_student(cohort), factories.make_user()
    clip = factories.make_clip(answer(student, cohort))
    swings = [
        factories.make_swing(clip, signs={"sway": level})
        for level in ("likely", "likely", "possible", "not_seen")
    ]
    say(swings[0], "sway", AGREE, coach)
    say(swings[1], "sway", NOT_THIS, coach)
    say(swings[3], "sway", AGREE, coach)
    (rate,) = hit_rates(answered(cohort.camp, [cohort]))
    assert (rate.flagged, rate.agreed, rate.dismissed, rate.unjudged, rate.added) == (3, 1, 1, 1, 1)


def test_three_queries_however_many(cohort: Cohort, django_assert_num_queries) -> None:
    coach = factories.make_user()
    for _ in range(3):
        swing = factories.make_swing(
            factories.make_clip(answer(factories.make_student(cohort), cohort)), signs={"sway": "likely"}
        )
        say(swing, "sway", AGREE, coach)
        with django_assert_num_queries(3):
            judged_submissions(cohort.camp, answered(cohort.camp, [cohort]))
