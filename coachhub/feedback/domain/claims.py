"""Who works on a review: taking it, giving it back, putting it off, handing it over."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Q

from coachhub.accounts.domain.consent import refuse_unless_allowed
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.common.domain.events import record
from coachhub.common.rules import can
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review

# A coach who went away must not keep a student waiting: after this another one may take the review.
CLAIM_LASTS = timedelta(hours=2)
LONGEST_DEFERRAL = timedelta(days=7)
NOTE_LENGTH = 2000


def free_for(by: User, now: datetime) -> Q:
    """Reviews that ``by`` may work on: nobody's, own ones, and those left lying."""
    return (
        Q(state=ReviewState.WAITING)
        | Q(state=ReviewState.CLAIMED, claimed_by=by)
        | Q(state=ReviewState.CLAIMED, claimed_at__lt=now - CLAIM_LASTS)
    )


@transaction.atomic
def claim_review(review: Review, *, by: User, now: datetime) -> Review:
    """Take the review. Of two coaches who try at once one gets it, the other a sentence saying who has it."""
    refuse_unless_coach(review, by)
    before = Review.objects.values_list("claimed_by_id", flat=True).get(pk=review.pk)
    hit = Review.objects.filter(free_for(by, now), pk=review.pk).update(
        state=ReviewState.CLAIMED, claimed_by=by, claimed_at=now, deferred_until=None
    )
    review.refresh_from_db()
    if not hit:
        raise _not_free(review)
    if before != by.pk:
        record("review.claimed", review, by=by, now=now, scope=review.submission.camp.public_id)
    return review


@transaction.atomic
def release_review(review: Review, *, by: User, now: datetime) -> Review:
    """Give it back to the queue; the draft stays. Giving back what one doesn't hold changes nothing."""
    hit = Review.objects.filter(pk=review.pk, state=ReviewState.CLAIMED, claimed_by=by).update(
        state=ReviewState.WAITING, claimed_by=None, claimed_at=None
    )
    if hit:
        record("review.released", review, by=by, now=now, scope=review.submission.camp.public_id)
    review.refresh_from_db()
    return review


@transaction.atomic
def defer_review(review: Review, *, until: datetime, by: User, now: datetime) -> Review:
    """Out of sight until then, or until it is overdue. The promise to the student runs on."""
    refuse_unless_coach(review, by)
    if not now < until <= now + LONGEST_DEFERRAL:
        raise RuleBroken(
            "until", f"Choose a time from now to {LONGEST_DEFERRAL.days} days ahead; the student is waiting."
        )
    hit = Review.objects.filter(free_for(by, now), pk=review.pk, has_red_flag=False).update(
        state=ReviewState.WAITING, claimed_by=None, claimed_at=None, deferred_until=until, deferred_by=by
    )
    review.refresh_from_db()
    if not hit and review.has_red_flag:
        raise RuleBroken("red_flag", "The student has a pain alert. This one can't be put off.")
    if not hit:
        raise _not_free(review)
    scope = review.submission.camp.public_id
    record("review.deferred", review, by=by, now=now, scope=scope, until=until.isoformat())
    return review


@transaction.atomic
def hand_over(review: Review, *, to: User, note: str, by: User, now: datetime) -> Review:
    """Give the review to another coach of the cohort, with a note that only staff read."""
    refuse_unless_coach(review, by)
    if not can(to, "feedback.review", review):
        raise RuleBroken("not_a_coach", "That person does not coach this student's cohort. Choose another.")
    if to.pk == by.pk:
        raise RuleBroken("yourself", "Choose another coach; this one is you.")
    held = Review.objects.select_for_update().get(pk=review.pk)
    hit = Review.objects.filter(free_for(by, now), pk=review.pk).update(
        state=ReviewState.CLAIMED,
        claimed_by=to,
        claimed_at=now,
        deferred_until=None,
        private_note=_noted(held.private_note, note, by),
    )
    review.refresh_from_db()
    if not hit:
        raise _not_free(review)
    scope = review.submission.camp.public_id
    record("review.handed_over", review, by=by, now=now, scope=scope, to=str(to.public_id))
    return review


def _noted(before: str, note: str, by: User) -> str:
    words = note.replace("\x00", "").strip()
    if not words:
        return before
    noted = f"{before}\n\n{by.name}: {words}".strip()
    if len(noted) > NOTE_LENGTH:
        raise RuleBroken(
            "too_long", f"All notes together can have {NOTE_LENGTH} characters, not {len(noted)}. Shorten it."
        )
    return noted


def refuse_unless_coach(review: Review, by: User) -> None:
    if not can(by, "feedback.review", review):
        raise RuleBroken("not_a_coach", "Only a coach of this student's cohort can do this.")
    refuse_unless_allowed(review.submission.student, Purpose.FEEDBACK)


def refuse_unless_held(review: Review, by: User) -> None:
    """``review`` must be fresh from the database."""
    if review.state != ReviewState.CLAIMED or review.claimed_by_id != by.pk:
        raise (
            _not_free(review)
            if review.state != ReviewState.WAITING
            else RuleBroken("not_claimed", "Take this review first, so that nobody else works on it too.")
        )


def _not_free(review: Review) -> RuleBroken:
    if review.state == ReviewState.CLAIMED and review.claimed_by is not None:
        return RuleBroken("claimed", f"{review.claimed_by.name} is reviewing this one.")
    if review.state == ReviewState.PUBLISHED:
        return RuleBroken("published", "This was already answered.")
    if review.state == ReviewState.DROPPED:
        return RuleBroken("dropped", "The student took this back.")
    if review.state == ReviewState.COMING:
        return RuleBroken("coming", "The clips are still being checked.")
    return Stale()
