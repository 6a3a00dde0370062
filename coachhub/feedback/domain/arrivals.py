"""How a review comes into being and into the queue."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from coachhub.common.domain.events import record
from coachhub.feedback.domain.clock import start_clock, stop_clock
from coachhub.feedback.domain.health import UNREVIEWED, health_of
from coachhub.feedback.domain.practice import pain_since_last_answer
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission


@transaction.atomic
def expect_review(submission: Submission, *, now: datetime) -> Review:
    """A submission was sent: its review is on the way. Sent again after filming anew, it is the same review."""
    health = health_of(submission)
    hurts = health.pain_now or pain_since_last_answer(submission.student, submission.camp)
    flags = {"has_red_flag": health.has_red_flag, "has_pain": hurts}
    review, made = Review.objects.get_or_create(
        submission=submission,
        defaults={**flags, "is_first": _is_first(submission), "created_at": now},
    )
    if made:
        record("review.expected", review, by=None, now=now, scope=submission.camp.public_id)
    elif review.state == ReviewState.COMING:
        Review.objects.filter(pk=review.pk).update(**flags)
        review.refresh_from_db()
    return review


def _is_first(submission: Submission) -> bool:
    others = Review.objects.filter(
        submission__student=submission.student_id, submission__camp=submission.camp
    )
    return not others.exclude(state=ReviewState.DROPPED).exclude(submission=submission).exists()


@transaction.atomic
def submission_settled(submission: Submission, *, now: datetime) -> Review:
    """All clips are judged. A usable submission joins the queue and its clock starts; else it is the student's turn."""
    review = expect_review(submission, now=now)
    if submission.state != SubmissionState.USABLE:
        return review
    hit = Review.objects.filter(pk=review.pk, state=ReviewState.COMING).update(state=ReviewState.WAITING)
    if hit:
        start_clock(review, now=now)
        record("review.waiting", review, by=None, now=now, scope=submission.camp.public_id)
        review.refresh_from_db()
    return review


@transaction.atomic
def drop_review(submission: Submission, *, now: datetime) -> None:
    """The student took the submission back."""
    review = Review.objects.filter(submission=submission).first()
    if review is None:
        return
    hit = Review.objects.filter(pk=review.pk, state__in=UNREVIEWED).update(
        state=ReviewState.DROPPED, claimed_by=None, claimed_at=None
    )
    if hit:
        stop_clock(review, reason="taken back", now=now)
        record("review.dropped", review, by=submission.student, now=now, scope=submission.camp.public_id)
