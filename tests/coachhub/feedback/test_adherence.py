"""Planned against done: the number a week from the words of the dose, and the weeks counted from the answer."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.adherence import adherence, assignments_of, times_a_week
from coachhub.feedback.domain.practice import log_practice
from coachhub.feedback.enums import PracticeKind, ReviewState
from coachhub.feedback.models import Review
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.mark.parametrize(
    ("words", "days"),
    [
        ("3 times a week", 3),
        ("3 to 4 times a week", 3),
        ("3 sets of 8, 4x per week", 4),
        ("twice a week", 2),
        ("every day", 7),
        ("9 times a week", 7),
        ("3 sets of 8", None),
        ("every session", None),
        ("", None),
    ],
)
def test_how_often_is_read_from_the_words(words: str, days: int | None) -> None:
    assert times_a_week(words) == days


def answer(student: User, cohort: Cohort, *, days_ago: int, **fields: Any) -> Review:
    given = {"drill": factories.make_drill(per_week="3 times a week"), "priority": "one thing"} | fields
    return factories.make_review(
        factories.make_submission(student, cohort),
        state=ReviewState.PUBLISHED,
        published_at=NOW - timedelta(days=days_ago),
        published_by=factories.make_user(),
        **given,
    )


def practised(review: Review, *days_ago: int, kind: str = PracticeKind.DONE) -> None:
    for ago in days_ago:
        day: date = (NOW - timedelta(days=ago)).date()
        log_practice(review, kind, by=review.submission.student, on_day=day, balls=20, now=NOW)


def test_weeks_count_days_and_not_taps() -> None:
    cohort = factories.make_cohort()
    student = factories.make_student(cohort)
    review = answer(student, cohort, days_ago=10)
    practised(review, 10, 8, 5, 5, 1)
    (one,) = assignments_of(student, cohort.camp, now=NOW)
    assert [(week.days, week.balls, week.planned) for week in one.weeks] == [(3, 80, 3), (1, 20, 3)]
    assert [week.is_running for week in one.weeks] == [False, True]
    assert (one.kept_weeks, one.is_current, one.is_stopped) == (1, True, False)


def test_the_next_answer_ends_a_drill_and_one_without_advice_does_not() -> None:
    cohort = factories.make_cohort()
    student = factories.make_student(cohort)
    first = answer(student, cohort, days_ago=20)
    answer(student, cohort, days_ago=15, drill=None, priority="")
    second = answer(student, cohort, days_ago=3, dose="10 balls, twice a week")
    newest, oldest = assignments_of(student, cohort.camp, now=NOW)
    assert (newest.review, newest.planned, newest.ends_on) == (second, 2, None)
    assert (oldest.review, oldest.ends_on) == (first, (NOW - timedelta(days=3)).date())
    assert not any(week.is_running for week in oldest.weeks)


def test_a_cohort_costs_two_queries(django_assert_num_queries: Any) -> None:
    cohort = factories.make_cohort()
    students = [factories.make_student(cohort) for _ in range(4)]
    for student in students:
        practised(answer(student, cohort, days_ago=2), 1)
    camp = cohort.camp
    with django_assert_num_queries(2):
        found = adherence([student.pk for student in students], camp, now=NOW)
    assert [found[student.pk][0].weeks[0].days for student in students] == [1, 1, 1, 1]


def test_what_hurts_is_stopped() -> None:
    cohort = factories.make_cohort()
    review = answer(factories.make_student(cohort), cohort, days_ago=3)
    practised(review, 1, kind=PracticeKind.HURTS)
    with pytest.raises(RuleBroken, match="stopped"):
        practised(review, 0)
    assert review.practice.count() == 1
    (one,) = assignments_of(review.submission.student, cohort.camp, now=NOW)
    assert one.is_stopped and one.weeks[0].days == 0
