from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest

from coachhub.accounts.models import Notice, User
from coachhub.camps.enums import MemberState, Role
from coachhub.camps.models import Cohort, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.practice import log_practice, pain_since_last_answer
from coachhub.feedback.enums import MessageKind, PracticeKind, ReviewState
from coachhub.feedback.models import Message, Practice, Review
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def cohort(db: None) -> Cohort:
    return factories.make_cohort()


@pytest.fixture
def student(cohort: Cohort) -> User:
    return factories.make_student(cohort)


@pytest.fixture
def review(student: User, cohort: Cohort) -> Review:
    return answered(student, cohort)


def answered(student: User, cohort: Cohort, days_ago: int = 1) -> Review:
    return factories.make_review(
        factories.make_submission(student, cohort),
        state=ReviewState.PUBLISHED,
        published_at=NOW - timedelta(days=days_ago),
        published_by=factories.make_user(),
    )


def log(review: Review, kind: str = PracticeKind.DONE, **given: Any) -> Practice:
    defaults: dict[str, Any] = {"by": review.submission.student, "on_day": NOW.date(), "now": NOW}
    return log_practice(review, kind, **defaults | given)


def test_coaches_and_guardians_hear_at_once_that_a_drill_hurts(cohort: Cohort) -> None:
    guardian = factories.make_user()
    child = factories.make_minor(cohort, guardian=guardian)
    here, gone, elsewhere = (factories.make_user() for _ in range(3))
    for coach, where in ((here, cohort), (gone, cohort), (elsewhere, factories.make_cohort(cohort.camp))):
        factories.join(coach, where, Role.COACH)
    Membership.objects.filter(user=gone).update(state=MemberState.LEFT)
    log(answered(child, cohort), PracticeKind.HURTS, note="left wrist")
    told = Notice.objects.filter(kind="hurts").order_by("person_id").values_list("person_id", "path")
    thread = child.threads.get().public_id
    assert list(told) == [(guardian.pk, f"/guardian/talks/{thread}/"), (here.pk, f"/coach/threads/{thread}/")]


def test_practice_is_noted_and_bothers_nobody(review: Review) -> None:
    practice = log(review, balls=40, note=" felt good\x00 ")
    assert (practice.balls, practice.note, practice.on_day) == (40, "felt good", NOW.date())
    assert Message.objects.count() == 0
    review.refresh_from_db()
    assert (review.has_pain, review.reply_waiting_since) == (False, None)


def test_a_double_tap_notes_it_once(review: Review) -> None:
    token = uuid.uuid4()
    assert log(review, balls=20, public_id=token) == log(review, balls=20, public_id=token)
    assert Practice.objects.count() == 1


def test_pain_said_after_going_back_is_not_lost(review: Review) -> None:
    token = uuid.uuid4()
    log(review, balls=20, public_id=token)
    log(review, PracticeKind.HURTS, public_id=token)
    assert set(Practice.objects.values_list("kind", flat=True)) == {PracticeKind.DONE, PracticeKind.HURTS}
    review.refresh_from_db()
    assert review.has_pain is True


def test_pain_reaches_the_coach_first(review: Review, student: User, cohort: Cohort) -> None:
    waiting = factories.make_review(factories.make_submission(student, cohort))
    log(review, PracticeKind.HURTS, note="left wrist")
    log(review, PracticeKind.HURTS)
    for each in (review, waiting):
        each.refresh_from_db()
        assert each.has_pain is True
    assert review.reply_waiting_since == NOW
    texts = list(Message.objects.values_list("kind", "text"))
    assert texts[0] == (MessageKind.NOTE, "The drill hurts. I have stopped it. left wrist")
    assert pain_since_last_answer(student, cohort.camp) is True


def test_pain_ends_with_the_next_answer(review: Review, student: User, cohort: Cohort) -> None:
    log(review, PracticeKind.HURTS)
    answered(student, cohort, days_ago=0)
    assert pain_since_last_answer(student, cohort.camp) is False


def test_not_understood_reaches_the_coach_without_pain(review: Review) -> None:
    log(review, PracticeKind.UNCLEAR, note="which wall?")
    review.refresh_from_db()
    assert (review.has_pain, review.reply_waiting_since) == (False, NOW)
    assert Message.objects.get().text == "I don't understand the drill. which wall?"


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"balls": -1}, "balls"),
        ({"balls": 501}, "balls"),
        ({"note": "x" * 501}, "too_long"),
        ({"on_day": date(2026, 6, 12)}, "day"),
        ({"on_day": date(2026, 6, 1)}, "day"),
    ],
)
def test_numbers_and_days_outside_their_range_are_refused(
    review: Review, given: dict[str, Any], code: str
) -> None:
    with pytest.raises(RuleBroken) as caught:
        log(review, **given)
    assert caught.value.code == code
    assert Practice.objects.count() == 0


def test_only_the_student_and_only_after_the_answer(review: Review, student: User, cohort: Cohort) -> None:
    with pytest.raises(RuleBroken, match="Only the student"):
        log(review, by=factories.make_student(cohort))
    draft = factories.make_review(factories.make_submission(student, cohort))
    with pytest.raises(RuleBroken, match="no answer to practise"):
        log(draft)
    with pytest.raises(ValueError, match=r"^kind must be one of .*, not 'slept'$"):
        log(review, "slept")
