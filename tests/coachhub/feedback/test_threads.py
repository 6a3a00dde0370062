from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.camps.models import Cohort
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.threads import (
    in_order,
    mark_read,
    post_feedback,
    post_message,
    read_until,
    thread_for,
    unread,
)
from coachhub.feedback.enums import MessageKind, ReviewState
from coachhub.feedback.models import Message, Review, Thread
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]
LATER = NOW + timedelta(hours=5)


@dataclass(frozen=True)
class Talk:
    cohort: Cohort
    student: User
    coach: User
    thread: Thread
    review: Review

    def waiting_since(self) -> Any:
        return Review.objects.get(pk=self.review.pk).reply_waiting_since


@pytest.fixture
def talk(db: None) -> Talk:
    cohort = factories.make_cohort()
    student, coach = factories.make_student(cohort), factories.make_user("Ines Coach")
    factories.join(coach, cohort, Role.COACH)
    review = factories.make_review(
        factories.make_submission(student, cohort),
        state=ReviewState.PUBLISHED,
        published_at=NOW - timedelta(days=1),
        published_by=coach,
    )
    return Talk(cohort, student, coach, thread_for(student, cohort.camp, now=NOW), review)


def test_one_thread_per_student_and_camp(talk: Talk) -> None:
    assert thread_for(talk.student, talk.cohort.camp, now=LATER) == talk.thread
    assert talk.thread.cohort == talk.cohort
    with pytest.raises(ValueError, match=r"^student must be a student of camp"):
        thread_for(talk.coach, talk.cohort.camp, now=NOW)


def test_a_reply_waits_for_the_coach_from_its_first_word(talk: Talk) -> None:
    post_message(talk.thread, by=talk.student, text="which foot?", now=NOW)
    post_message(talk.thread, by=talk.student, text="the left one?", now=LATER)
    assert talk.waiting_since() == NOW
    post_message(talk.thread, by=talk.coach, text="the lead one", now=LATER)
    assert talk.waiting_since() is None


def test_it_waits_on_the_latest_answer(talk: Talk) -> None:
    newer = factories.make_review(
        factories.make_submission(talk.student, talk.cohort),
        state=ReviewState.PUBLISHED,
        published_at=NOW,
        published_by=talk.coach,
    )
    post_message(talk.thread, by=talk.student, text="thanks", now=LATER)
    newer.refresh_from_db()
    assert newer.reply_waiting_since == LATER
    assert talk.waiting_since() is None


def test_before_the_first_answer_it_waits_on_what_was_sent(talk: Talk) -> None:
    other = factories.make_student(talk.cohort)
    review = factories.make_review(factories.make_submission(other, talk.cohort))
    thread = thread_for(other, talk.cohort.camp, now=NOW)
    post_message(thread, by=other, text="did it arrive?", now=NOW)
    review.refresh_from_db()
    assert review.reply_waiting_since == NOW


def test_a_double_tap_says_it_once(talk: Talk) -> None:
    token = uuid.uuid4()
    first = post_message(talk.thread, by=talk.student, text="hello", now=NOW, public_id=token)
    assert post_message(talk.thread, by=talk.student, text="hello", now=LATER, public_id=token) == first
    stolen = post_message(talk.thread, by=talk.coach, text="other", now=NOW, public_id=token)
    assert stolen.public_id != token
    assert Message.objects.count() == 2


def test_other_words_after_going_back_are_not_lost(talk: Talk) -> None:
    token = uuid.uuid4()
    for text in ("hello", "hello again"):
        post_message(talk.thread, by=talk.student, text=text, now=NOW, public_id=token)
    assert [message.text for message in in_order(talk.thread)] == ["hello", "hello again"]


@pytest.mark.parametrize(("text", "code"), [("", "empty"), (" \n\x00", "empty"), ("x" * 4001, "too_long")])
def test_nothing_and_too_much_are_refused(talk: Talk, text: str, code: str) -> None:
    with pytest.raises(RuleBroken) as caught:
        post_message(talk.thread, by=talk.student, text=text, now=NOW)
    assert caught.value.code == code
    assert Message.objects.count() == 0
    assert talk.waiting_since() is None


def test_markup_is_kept_as_the_text_it_is(talk: Talk) -> None:
    text = "<b>1 < 2</b> \u202eabc"
    assert post_message(talk.thread, by=talk.student, text=text, now=NOW).text == text


def test_a_message_about_another_students_answer_is_refused(talk: Talk) -> None:
    mate = factories.make_student(talk.cohort)
    hers = factories.make_review(factories.make_submission(mate, talk.cohort))
    with pytest.raises(ValueError, match=r"^review must be one of the thread's student"):
        post_message(talk.thread, by=talk.student, text="hm", review=hers, now=NOW)


def test_the_answer_is_posted_once(talk: Talk) -> None:
    first = post_feedback(talk.review, by=talk.coach, now=NOW)
    assert post_feedback(talk.review, by=talk.coach, now=LATER) == first
    assert [message.kind for message in in_order(talk.thread)] == [MessageKind.FEEDBACK]


def test_unread_until_seen_and_the_bookmark_never_goes_back(talk: Talk) -> None:
    message = post_message(talk.thread, by=talk.coach, text="look at this", now=NOW)
    assert list(unread(talk.student)) == [message]
    assert list(unread(talk.coach)) == []
    mark_read(talk.thread, by=talk.student, now=LATER)
    mark_read(talk.thread, by=talk.student, now=NOW - timedelta(days=1))
    assert read_until(talk.thread, talk.student) == LATER
    assert list(unread(talk.student)) == []


def test_outsiders_have_nothing_to_read(talk: Talk) -> None:
    post_message(talk.thread, by=talk.coach, text="look at this", now=NOW)
    assert list(unread(factories.make_student(talk.cohort))) == []
