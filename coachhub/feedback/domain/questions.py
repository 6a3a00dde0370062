"""Asking the student before answering. The promise clock stands still until they write, and the answer counts."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction

from coachhub.accounts.enums import NoticeKind
from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.feedback.domain.camp_map import map_of
from coachhub.feedback.domain.claims import free_for, refuse_unless_coach
from coachhub.feedback.domain.clock import pause_clock
from coachhub.feedback.domain.threads import post_message, thread_for
from coachhub.feedback.enums import MessageKind, Reading, ReviewState
from coachhub.feedback.models import Message, Question, Review, Thread


@transaction.atomic
def ask_student(review: Review, text: str, *, by: User, now: datetime, node: str = "") -> Message:
    """Put one question into the thread; the review waits for the student's word, and nobody holds it.

    ``node``: of the map, if the question is about one.
    """
    refuse_unless_coach(review, by)
    submission = review.submission
    if node and node not in map_of(submission.camp).found.nodes:
        node = ""
    hit = Review.objects.filter(free_for(by, now), pk=review.pk).update(
        state=ReviewState.WAITING, claimed_by=None, claimed_at=None
    )
    review.refresh_from_db()
    if not hit:
        raise RuleBroken("not_free", "Only a review that waits or that you hold can wait for an answer.")
    thread = thread_for(submission.student, submission.camp, now=now)
    message = post_message(
        thread, by=by, text=text, review=review, kind=MessageKind.NOTE, news=NoticeKind.QUESTION, now=now
    )
    Question.objects.create(review=review, node=node, asked=message, created_at=now)
    pause_clock(review, reason="asked the student", now=now)
    review.refresh_from_db()
    record("review.asked", review, by=by, now=now, scope=submission.camp.public_id)
    return message


def open_question(student: User, camp: Camp) -> Message | None:
    """The question this student still has to answer, if there is one."""
    waiting = Review.objects.filter(
        submission__student=student, submission__camp=camp, state=ReviewState.WAITING, due_at=None
    )
    asked = Message.objects.filter(kind=MessageKind.NOTE, review__in=waiting).exclude(author=student)
    return asked.order_by("-created_at", "-id").first()


@transaction.atomic
def answer_question(
    question: Question,
    *,
    by: User,
    text: str,
    chosen: Iterable[str] = (),
    now: datetime,
    public_id: UUID | None = None,
) -> Message:
    """The student's own words, and the plain choices beside them; both land in the thread and count."""
    review = question.review
    if review.submission.student_id != by.pk:
        raise RuleBroken("not_yours", "Only the student who was asked can answer this.")
    on_map = map_of(review.submission.camp).found.nodes
    beliefs = [key for key in dict.fromkeys(chosen) if key in on_map and on_map[key].kind == "belief"]
    labels = [on_map[key].label for key in beliefs]
    words = "\n".join(filter(None, (text.replace("\x00", "").strip(), "; ".join(labels))))
    thread = thread_for(by, review.submission.camp, now=now)
    message = post_message(
        thread, by=by, text=words, review=review, kind=MessageKind.NOTE, now=now, public_id=public_id
    )
    question.refresh_from_db()
    question.chosen = list(dict.fromkeys([*question.chosen, *beliefs]))
    question.save(update_fields=["chosen"])
    return message


def note_answer(thread: Thread, message: Message) -> None:
    """Whatever the student writes while a question is open is its answer."""
    Question.objects.filter(
        review__submission__student_id=thread.student_id,
        review__submission__camp_id=thread.camp_id,
        review__state__in=(ReviewState.WAITING, ReviewState.CLAIMED),
        answer=None,
    ).update(answer=message)


@transaction.atomic
def read_answer(question: Question, reading: str, *, by: User, now: datetime) -> Question:
    """What the coach reads in the student's words about the idea that was asked about."""
    refuse_unless_coach(question.review, by)
    if reading not in Reading.values:
        raise RuleBroken("reading", "Choose one: shows this idea, speaks against it, leaves it open.")
    if question.answer_id is None:
        raise RuleBroken("no_answer", "The student has not answered yet.")
    question.reading, question.read_by = reading, by
    question.save(update_fields=["reading", "read_by"])
    scope = question.review.submission.camp.public_id
    record("review.answer_read", question.review, by=by, now=now, scope=scope, reading=reading)
    return question
