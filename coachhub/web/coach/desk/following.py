from __future__ import annotations

from datetime import datetime

from django.db.models import F, Q

from coachhub.accounts.models import User
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review


def next_review(user: User, now: datetime) -> Review | None:
    """What the coach would take next: warning signs first, then what is promised soonest."""
    awake = Q(deferred_until=None) | Q(deferred_until__lte=now) | Q(due_at__lte=now)
    return (
        Review.objects.writable_by(user)
        .filter(awake, state=ReviewState.WAITING, due_at__isnull=False)
        .order_by("-has_red_flag", F("due_at").asc(nulls_last=True), "id")
        .first()
    )
