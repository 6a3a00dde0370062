"""Asking the student before answering. The promise clock stands still until they write."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.feedback.domain.claims import free_for, refuse_unless_coach
from coachhub.feedback.domain.clock import pause_clock
from coachhub.feedback.domain.threads import post_message, thread_for
from coachhub.feedback.enums import MessageKind, ReviewState
from coachhub.feedback.models import Message, Review


@transaction.atomic
def ask_student(review: Review, text: str, *, by: User, now: datetime) -> Message:
    """Put one question into the thread; the review waits for the student's word, and nobody holds it."""
    refuse_unless_coach(review, by)
    submission = review.submission
    hit = Review.objects.filter(free_for(by, now), pk=review.pk).update(
        state=ReviewState.WAITING, claimed_by=None, claimed_at=None
    )
    review.refresh_from_db()
    if not hit:
        raise RuleBroken("not_free", "Only a review that waits or that you hold can wait for an answer.")
    thread = thread_for(submission.student, submission.camp, now=now)
    question = post_message(thread, by=by, text=text, review=review, kind=MessageKind.NOTE, now=now)
    pause_clock(review, reason="asked the student", now=now)
    review.refresh_from_db()
    record("review.asked", review, by=by, now=now, scope=submission.camp.public_id)
    return question


def open_question(student: User, camp: Camp) -> Message | None:
    """The question this student still has to answer, if there is one."""
    waiting = Review.objects.filter(
        submission__student=student, submission__camp=camp, state=ReviewState.WAITING, due_at=None
    )
    asked = Message.objects.filter(kind=MessageKind.NOTE, review__in=waiting).exclude(author=student)
    return asked.order_by("-created_at", "-id").first()
