from __future__ import annotations

from datetime import datetime

from coachhub.accounts.models import User
from coachhub.feedback.domain.queue import Wanted, queue_of
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review


def next_review(user: User, now: datetime) -> Review | None:
    """The first of the coach's queue that wants an answer; replies are read in their thread."""
    unanswered = (ReviewState.WAITING, ReviewState.CLAIMED)
    return queue_of(user, Wanted(), now=now).filter(state__in=unanswered, due_at__isnull=False).first()
