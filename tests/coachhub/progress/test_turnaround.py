from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort
from coachhub.feedback.enums import ClockMove, ReviewState
from coachhub.feedback.models import ClockEvent, Review
from coachhub.progress.domain.turnaround import turnaround
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


def hours(number: float) -> timedelta:
    return timedelta(hours=number)


@pytest.fixture
def cohort(db: None) -> Cohort:
    return factories.make_cohort(factories.make_camp(rest_days=[], promise_hours=48))


@pytest.fixture
def coach(db: None) -> User:
    return factories.make_user("Ines Coach")


def review(cohort: Cohort, coach: User, took: float | None = None, name: str = "", **fields: Any) -> Review:
    """Usable at NOW; answered ``took`` hours later."""
    submission = factories.make_submission(factories.make_student(cohort, name), cohort)
    published = {"state": ReviewState.PUBLISHED, "published_by": coach} if took is not None else {}
    if took is not None:
        published["published_at"] = NOW + hours(took)
    found = factories.make_review(submission, **(published | fields))
    ClockEvent.objects.create(review=found, at=NOW, move=ClockMove.START)
    return found


def move(found: Review, kind: ClockMove, after: float) -> None:
    ClockEvent.objects.create(review=found, at=NOW + hours(after), move=kind)


def test_kept_late_and_overdue(cohort: Cohort, coach: User) -> None:
    review(cohort, coach, 10)
    review(cohort, coach, 48)
    review(cohort, coach, 50, "Late Lou")
    review(cohort, coach, None, "Overdue Ona")
    review(cohort, coach, None, due_at=NOW + hours(100))
    found = turnaround(cohort.camp, [cohort], now=NOW + hours(60))
    assert (len(found.published), found.kept) == (3, 2)
    assert (len(found.waiting), found.overdue) == (2, 1)
    assert found.median_hours == 48
    assert [answer.student_name for answer in found.late] == ["Overdue Ona", "Late Lou"]
    assert found.late[0].hours == 60


def test_pauses_and_rest_days_are_not_counted(coach: User) -> None:
    # NOW is a Wednesday, 18:30 in Tokyo; Thursday rests.
    cohort = factories.make_cohort(factories.make_camp(rest_days=[4]))
    found = review(cohort, coach, 48)
    move(found, ClockMove.PAUSE, 2)
    move(found, ClockMove.RESUME, 4)
    (answer,) = turnaround(cohort.camp, [cohort], now=NOW).answers
    assert answer.hours == pytest.approx(48 - 2 - 24)


def test_a_clock_that_stands_still_stops_counting_and_is_never_late(cohort: Cohort, coach: User) -> None:
    found = review(cohort, coach, due_at=None)
    move(found, ClockMove.PAUSE, 5)
    (answer,) = turnaround(cohort.camp, [cohort], now=NOW + hours(500)).answers
    assert answer.is_paused
    assert not answer.is_late
    assert answer.hours == pytest.approx(5)


def test_the_distribution_holds_each_answer_once_and_is_cut_at_the_promise(
    cohort: Cohort, coach: User
) -> None:
    for took in (0, 6, 12, 12.01, 47.99, 48, 48.01, 96, 200):
        review(cohort, coach, took)
    bins = turnaround(cohort.camp, [cohort], now=NOW).bins
    assert [each.answers for each in bins] == [3, 1, 0, 2, 1, 1, 1]
    assert [each.to_hours for each in bins][:4] == [12, 24, 36, 48]
    assert [each.within_promise for each in bins] == [True] * 4 + [False] * 3


def test_what_is_not_in_the_queue_is_not_listed(cohort: Cohort, coach: User) -> None:
    review(cohort, coach, state=ReviewState.COMING)
    review(cohort, coach, state=ReviewState.DROPPED)
    other = factories.make_cohort(cohort.camp)
    review(other, coach, 10)
    assert turnaround(cohort.camp, [cohort], now=NOW).answers == ()
    assert turnaround(cohort.camp, [cohort], now=NOW).median_hours is None


def test_two_queries_however_many(cohort: Cohort, coach: User, django_assert_num_queries) -> None:
    for _ in range(3):
        review(cohort, coach, 10)
        with django_assert_num_queries(2):
            turnaround(cohort.camp, [cohort], now=NOW)
