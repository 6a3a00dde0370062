from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from coachhub.accounts.models import StandingConsent, User
from coachhub.camps.models import Cohort, Membership
from coachhub.feedback.models import Message, Practice
from coachhub.progress.domain.quiet import QUIET_DAYS, gone_quiet
from tests import factories

pytestmark = [pytest.mark.integration, pytest.mark.django_db]

# The camp of the factories is on from 1 to 28 June.
NOW = datetime(2026, 6, 25, 3, tzinfo=UTC)


@pytest.fixture
def cohort(db: None) -> Cohort:
    return factories.make_cohort()


def quiet(cohort: Cohort, now: datetime = NOW) -> list[tuple[str, int]]:
    return [(one.name, one.days) for one in gone_quiet(cohort.camp, [cohort], now=now)]


def sent(student: User, cohort: Cohort, days_ago: int, **review: Any) -> Any:
    at = NOW - timedelta(days=days_ago)
    submission = factories.make_submission(student, cohort, sent_at=at, range_day=at.date())
    out = {"state": "published", "published_at": at, "published_by": student} | review
    return factories.make_review(submission, **out)


def joined(cohort: Cohort, name: str, days_ago: int = 40) -> User:
    student = factories.make_student(cohort, name)
    Membership.objects.filter(user=student).update(created_at=NOW - timedelta(days=days_ago))
    return student


def test_from_ten_days_on_by_name(cohort: Cohort) -> None:
    for name, days in (("Zeno", QUIET_DAYS), ("Ada", 20), ("Mia", QUIET_DAYS - 1)):
        sent(joined(cohort, name), cohort, days)
    assert quiet(cohort) == [("Ada", 20), ("Zeno", 10)]


def test_who_never_sent_is_counted_from_joining_or_from_the_first_day(cohort: Cohort) -> None:
    joined(cohort, "Ada")
    joined(cohort, "Bea", days_ago=3)
    assert quiet(cohort) == [("Ada", 24)]


def test_writing_and_practising_are_signs_of_life(cohort: Cohort) -> None:
    ada, bea = joined(cohort, "Ada"), joined(cohort, "Bea")
    sent(ada, cohort, 20)
    review = sent(bea, cohort, 20)
    assert [name for name, _ in quiet(cohort)] == ["Ada", "Bea"]
    Message.objects.create(
        thread=factories.make_thread(ada, cohort),
        author=ada,
        kind="reply",
        created_at=NOW - timedelta(days=2),
    )
    Practice.objects.create(
        review=review, kind="done", on_day=(NOW - timedelta(days=2)).date(), created_at=NOW
    )
    assert quiet(cohort) == []


def test_practice_is_not_looked_at_without_the_agreement(cohort: Cohort) -> None:
    bea = joined(cohort, "Bea")
    review = sent(bea, cohort, 20)
    Practice.objects.create(
        review=review, kind="done", on_day=(NOW - timedelta(days=2)).date(), created_at=NOW
    )
    StandingConsent.objects.filter(person=bea, purpose="feedback").delete()
    assert quiet(cohort) == [("Bea", 20)]


def test_a_coachs_message_is_no_sign_of_the_student(cohort: Cohort) -> None:
    ada = joined(cohort, "Ada")
    thread = factories.make_thread(ada, cohort)
    Message.objects.create(thread=thread, author=factories.make_user(), kind="reply", created_at=NOW)
    assert quiet(cohort) == [("Ada", 24)]


def test_who_waits_for_an_answer_is_not_quiet(cohort: Cohort) -> None:
    sent(joined(cohort, "Ada"), cohort, 20, state="waiting", published_at=None, published_by=None)
    assert quiet(cohort) == []


@pytest.mark.parametrize("state", ["paused", "left"])
def test_nor_is_who_takes_no_part(cohort: Cohort, state: str) -> None:
    joined(cohort, "Ada")
    Membership.objects.filter(cohort=cohort).update(state=state)
    assert quiet(cohort) == []


@pytest.mark.parametrize("day", [datetime(2026, 5, 30, tzinfo=UTC), datetime(2026, 6, 29, tzinfo=UTC)])
def test_nobody_is_while_the_camp_is_not_on(cohort: Cohort, day: datetime) -> None:
    joined(cohort, "Ada")
    assert quiet(cohort, day) == []
