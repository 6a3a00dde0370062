"""What follows when a consent ends or begins: work stops where it stands, and goes on when it may."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q

from coachhub.accounts.domain.consent import allows
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import User
from coachhub.feedback.domain.cases import take_down_for
from coachhub.feedback.domain.clock import pause_clock, resume_clock
from coachhub.feedback.enums import ClockMove, ReviewState
from coachhub.feedback.models import Review
from coachhub.videos.domain.consents import end_uploads

PAUSED = "no consent"


def purpose_ended(person: User, purpose: str, *, now: datetime) -> None:
    if purpose in (Purpose.ANALYSIS, Purpose.FEEDBACK):
        end_uploads(person, now=now)
    if purpose == Purpose.FEEDBACK:
        _put_down(person, now=now)
    if purpose == Purpose.COHORT:
        take_down_for(person, now=now)


def purposes_began(person: User, *, now: datetime) -> None:
    """Measuring and reviews that stood still go on."""
    from coachhub.videos.domain.consents import resume_work

    if allows(person, Purpose.ANALYSIS):
        resume_work(person, now=now)
    if allows(person, Purpose.FEEDBACK):
        for review in _open_reviews(person):
            last = review.clock.last()
            if last is not None and last.move == ClockMove.PAUSE and last.reason == PAUSED:
                resume_clock(review, reason="consent given", now=now)


def _put_down(person: User, *, now: datetime) -> None:
    """Nobody holds the reviews any more, and the promise stands still."""
    for review in _open_reviews(person):
        Review.objects.filter(pk=review.pk, state=ReviewState.CLAIMED).update(
            state=ReviewState.WAITING, claimed_by=None, claimed_at=None
        )
        pause_clock(review, reason=PAUSED, now=now)


def _open_reviews(person: User) -> list[Review]:
    is_open = Q(state__in=(ReviewState.COMING, ReviewState.WAITING, ReviewState.CLAIMED))
    return list(Review.objects.filter(is_open, submission__student=person).select_related("submission__camp"))
