"""Two tabs never overwrite each other silently: a save counts only on top of what its tab has seen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import F, Q

from coachhub.accounts.models import User
from coachhub.common.domain.errors import Stale
from coachhub.feedback.domain.claims import refuse_unless_held
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review


@dataclass(frozen=True)
class Attempt:
    """A save as the browser knows it. ``after``: its own earlier ones whose answers got lost on the way."""

    id: UUID | None = None
    after: tuple[UUID, ...] = ()


def advance(
    review: Review, *, revision: int, by: User, now: datetime, attempt: Attempt | None, **changes: Any
) -> None:
    """The next revision, with ``changes``; raises Stale if somebody else, or another tab, saved since.

    A save that got through while its answer was lost has moved the revision on: the same tab may go on from it.
    """
    attempt = attempt or Attempt()
    known = Q(revision=revision) | Q(last_save__in=attempt.after)
    hit = Review.objects.filter(known, pk=review.pk, state=ReviewState.CLAIMED, claimed_by=by).update(
        revision=F("revision") + 1, claimed_at=now, last_save=attempt.id, **changes
    )
    review.refresh_from_db()
    if not hit:
        refuse_unless_held(review, by)
        raise Stale()
