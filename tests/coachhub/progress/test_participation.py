from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from coachhub.camps.enums import MemberState
from coachhub.camps.models import Cohort, Membership
from coachhub.feedback.enums import ReviewState
from coachhub.progress.domain.participation import participation, turnout
from coachhub.videos.enums import SubmissionState
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cohort(db: None) -> Cohort:
    # 1 to 28 June in Tokyo; NOW is Wednesday of week 2.
    return factories.make_cohort(name="Morning")


def test_who_joined_answered_sent_and_when_last(cohort: Cohort) -> None:
    ada, bo = factories.make_student(cohort, "Ada"), factories.make_user("Bo")
    factories.join(bo, cohort)
    factories.make_intake(ada, created_at=NOW + timedelta(hours=1))
    first = factories.make_submission(
        ada, cohort, state=SubmissionState.ANSWERED, sent_at=NOW - timedelta(days=6)
    )
    factories.make_review(first, state=ReviewState.PUBLISHED, published_at=NOW, published_by=bo)
    factories.make_submission(ada, cohort, state=SubmissionState.REFILM, sent_at=NOW)
    factories.make_submission(ada, cohort, state=SubmissionState.OPEN, sent_at=None)
    factories.make_submission(ada, cohort, state=SubmissionState.WITHDRAWN, sent_at=NOW + timedelta(days=1))
    rows = participation(cohort.camp, [cohort], now=NOW)
    assert [row.name for row in rows] == ["Ada", "Bo"]
    one, other = rows
    assert (one.sent, one.answered, one.refilm, one.last_sent_at, one.last_week) == (2, 1, 1, NOW, 2)
    assert one.intake_at == NOW + timedelta(hours=1)
    assert not one.is_due
    assert (other.sent, other.answered, other.last_sent_at, other.intake_at) == (0, 0, None, None)
    assert other.is_due
    found = turnout(rows)
    assert (found.students, found.with_intake, found.ever_sent, found.due) == (2, 1, 1, 1)


def test_the_camps_zone_says_in_which_week_it_was_sent(cohort: Cohort) -> None:
    student = factories.make_student(cohort)
    # Sunday 7 June 16:00 UTC is Monday 8 June 01:00 in Tokyo: the first hour of week 2.
    factories.make_submission(student, cohort, sent_at=datetime(2026, 6, 7, 16, tzinfo=UTC))
    (row,) = participation(cohort.camp, [cohort], now=NOW)
    assert row.last_week == 2
    assert not row.is_due


@pytest.mark.parametrize("days", [-30, 60])
def test_outside_the_camp_nobody_is_due(cohort: Cohort, days: int) -> None:
    factories.make_student(cohort)
    (row,) = participation(cohort.camp, [cohort], now=NOW + timedelta(days=days))
    assert not row.is_due


@pytest.mark.parametrize("state", [MemberState.PAUSED, MemberState.LEFT])
def test_who_pauses_or_left_owes_nothing(cohort: Cohort, state: MemberState) -> None:
    away, here = factories.make_student(cohort, "Ada"), factories.make_student(cohort, "Bo")
    Membership.objects.filter(user=away).update(state=state)
    rows = participation(cohort.camp, [cohort], now=NOW)
    by_name = {row.name: row for row in rows}
    assert not by_name["Ada"].is_due
    assert by_name["Bo"].is_due
    left = state == MemberState.LEFT
    assert [row.name for row in rows] == (["Bo", "Ada"] if left else ["Ada", "Bo"])
    assert turnout(rows).students == (1 if left else 2)
    assert here.name == "Bo"


def test_swings_of_another_camp_are_not_counted(cohort: Cohort) -> None:
    student = factories.make_student(cohort)
    other = factories.make_cohort()
    factories.join(student, other)
    factories.make_submission(student, other)
    (row,) = participation(cohort.camp, [cohort], now=NOW)
    assert row.sent == 0


def test_one_query_however_many(cohort: Cohort, django_assert_num_queries) -> None:
    for _ in range(3):
        factories.make_submission(factories.make_student(cohort), cohort)
        with django_assert_num_queries(1):
            participation(cohort.camp, [cohort], now=NOW)
