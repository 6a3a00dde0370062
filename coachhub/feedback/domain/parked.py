"""One thing at a time: what else a coach saw is kept for later, seen by the coaches, and taken up one by one."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import F, QuerySet

from coachhub.accounts.models import User
from coachhub.camps.models import Camp, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.rules import can
from coachhub.feedback.domain.claims import refuse_unless_held
from coachhub.feedback.enums import ParkedState, ReviewState
from coachhub.feedback.models import ParkedPriority, Review

LONGEST = 300


def parked_for(student: User | int, camp: Camp | int) -> QuerySet[ParkedPriority]:
    """What waits, the oldest first."""
    rows = ParkedPriority.objects.filter(student=student, camp=camp, state=ParkedState.PARKED)
    return rows.select_related("by")


@transaction.atomic
def park(place: Membership, *, words: str, by: User, now: datetime) -> ParkedPriority:
    if not can(by, "feedback.write", place):
        raise RuleBroken("not_a_coach", "Only a coach of this student can keep something for later.")
    text = " ".join(words.replace("\x00", "").split())
    if not text:
        raise RuleBroken("empty", "Write what is kept for later.")
    if len(text) > LONGEST:
        raise RuleBroken("too_long", f"{LONGEST} characters are enough; yours has {len(text)}. Shorten it.")
    same = parked_for(place.user, place.camp).filter(words__iexact=text).first()
    if same is not None:
        return same
    parked = ParkedPriority.objects.create(
        camp=place.camp, student=place.user, by=by, words=text, created_at=now
    )
    record("priority.parked", parked, by=by, now=now, scope=place.camp.public_id)
    return parked


@transaction.atomic
def take_up(parked: ParkedPriority, review: Review, *, by: User, now: datetime) -> Review:
    """It becomes the one thing of the answer that this coach writes now; what stood there is kept for later."""
    held = Review.objects.select_for_update().select_related("submission").get(pk=review.pk)
    if (held.submission.student_id, held.submission.camp_id) != (parked.student_id, parked.camp_id):
        raise ValueError(f"review must be one of the same student and camp, not {review.public_id}")
    refuse_unless_held(held, by)
    before = held.priority.strip()
    _end(parked, ParkedState.TAKEN_UP, by=by, now=now, review=held)
    Review.objects.filter(pk=held.pk, state=ReviewState.CLAIMED).update(
        priority=parked.words, revision=F("revision") + 1
    )
    if before and before != parked.words:
        ParkedPriority.objects.create(
            camp=parked.camp, student=parked.student, by=by, words=before, created_at=now
        )
    held.refresh_from_db()
    return held


@transaction.atomic
def drop(parked: ParkedPriority, *, by: User, now: datetime) -> None:
    _end(parked, ParkedState.DROPPED, by=by, now=now)


def _end(
    parked: ParkedPriority, state: ParkedState, *, by: User, now: datetime, review: Review | None = None
) -> None:
    hit = ParkedPriority.objects.filter(pk=parked.pk, state=ParkedState.PARKED).update(
        state=state, ended_at=now, review=review
    )
    if not hit:
        raise RuleBroken("gone", "Somebody took this up or dropped it already.")
    record(f"priority.{state}", parked, by=by, now=now, scope=parked.camp.public_id)
    parked.refresh_from_db()
