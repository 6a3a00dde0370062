"""A coach falls ill or leaves: what lies with them in a cohort goes to another one."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from coachhub.accounts.models import User
from coachhub.camps.domain.members import assign_coach
from coachhub.camps.models import Cohort
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.rules import can
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review


def held_by(coach: User, cohort: Cohort) -> int:
    """How many reviews of the cohort lie with this coach."""
    return _held(coach, cohort).count()


@transaction.atomic
def reassign(cohort: Cohort, *, away_from: User, to: User, by: User, now: datetime) -> int:
    """Drafts, notes and promises stay as they are; only whose they are changes. How many went over."""
    if not can(by, "camps.manage_members", cohort):
        raise RuleBroken("not_organiser", "Only an organiser of this camp can do this.")
    if away_from.pk == to.pk:
        raise RuleBroken("same_coach", "Choose two different coaches.")
    assign_coach(cohort, to, by=by, now=now)
    scope, moved = cohort.camp.public_id, 0
    for review in _held(away_from, cohort).select_for_update():
        moved += Review.objects.filter(pk=review.pk, state=ReviewState.CLAIMED, claimed_by=away_from).update(
            claimed_by=to, claimed_at=now, deferred_until=None
        )
        record("review.reassigned", review, by=by, now=now, scope=scope, to=str(to.public_id))
    # Put off by somebody who is not there to come back to it.
    Review.objects.filter(submission__cohort=cohort, state=ReviewState.WAITING, deferred_by=away_from).update(
        deferred_until=None, deferred_by=None
    )
    return moved


def _held(coach: User, cohort: Cohort) -> QuerySet[Review]:
    return Review.objects.filter(submission__cohort=cohort, state=ReviewState.CLAIMED, claimed_by=coach)
