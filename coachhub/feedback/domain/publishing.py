"""The answer goes out, once, and is opened."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import F

from coachhub.accounts.domain.consent import refuse_unless_allowed
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit
from coachhub.feedback.domain.camp_drills import show_film
from coachhub.feedback.domain.claims import refuse_unless_held
from coachhub.feedback.domain.clock import stop_clock
from coachhub.feedback.domain.comparisons import pin_comparisons
from coachhub.feedback.domain.health import health_of
from coachhub.feedback.domain.ideas import show_demonstration
from coachhub.feedback.domain.talks import show_beside
from coachhub.feedback.domain.threads import LONGEST_MESSAGE, post_feedback
from coachhub.feedback.domain.versions import keep_version
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.feedback.tasks import tell_student
from coachhub.videos.domain.answered import mark_answered


@transaction.atomic
def publish_review(review: Review, *, by: User, now: datetime, revision: int | None = None) -> Review:
    """Send the answer to the student. A second call, as from a double click or another tab, changes nothing.

    ``revision``: what the coach looked at; if the draft changed since, Stale is raised and nothing goes out.
    """
    held = Review.objects.select_for_update().get(pk=review.pk)
    if held.state == ReviewState.PUBLISHED:
        return held
    refuse_unless_held(held, by)
    if revision is not None and revision != held.revision:
        raise Stale()
    _refuse_unless_ready(held)
    refuse_unless_allowed(held.submission.student, Purpose.FEEDBACK)
    hit = Review.objects.filter(
        pk=held.pk, state=ReviewState.CLAIMED, claimed_by=by, revision=held.revision
    ).update(
        state=ReviewState.PUBLISHED,
        published_at=now,
        published_by=by,
        revision=F("revision") + 1,
        reply_waiting_since=None,
        deferred_until=None,
    )
    if not hit:
        raise Stale()
    held.refresh_from_db()
    _deliver(held, by=by, now=now)
    return held


def _deliver(review: Review, *, by: User, now: datetime) -> None:
    submission = review.submission
    keep_version(review, by=by, now=now)
    show_demonstration(review)
    show_film(review)
    pin_comparisons(review, now=now)
    show_beside(review)
    post_feedback(review, by=by, text=(review.priority or review.words)[:LONGEST_MESSAGE], now=now)
    stop_clock(review, reason="answered", now=now)
    mark_answered(submission, by=by, now=now)
    record("review.published", review, by=by, now=now, scope=submission.camp.public_id)
    after_commit(tell_student.delay, review.pk)


def _refuse_unless_ready(review: Review) -> None:
    if not (review.priority.strip() or review.words.strip()):
        raise RuleBroken(
            "empty", "Write at least the one thing to work on, or some words, before publishing."
        )
    red_flag = review.has_red_flag or health_of(review.submission).has_red_flag
    if review.drill_id is not None and red_flag:
        raise RuleBroken(
            "red_flag",
            "The student has a pain alert. Take the drill out and advise to see a clinician first.",
        )


@transaction.atomic
def mark_opened(review: Review, *, by: User, now: datetime) -> bool:
    """The student has the answer in front of them for the first time. False: not the first time, or not theirs."""
    if review.submission.student_id != by.pk:
        return False
    hit = Review.objects.filter(pk=review.pk, state=ReviewState.PUBLISHED, opened_at=None).update(
        opened_at=now
    )
    if hit:
        review.opened_at = now
        record("review.opened", review, by=by, now=now, scope=review.submission.camp.public_id)
    return bool(hit)


@transaction.atomic
def settle_reply(review: Review, *, by: User, now: datetime) -> bool:
    """The coach read the reply, and it needs no answer."""
    hit = Review.objects.filter(pk=review.pk, reply_waiting_since__isnull=False).update(
        reply_waiting_since=None
    )
    if hit:
        record("review.reply_settled", review, by=by, now=now, scope=review.submission.camp.public_id)
    return bool(hit)
