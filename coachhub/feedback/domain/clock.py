"""The promise clock of a review: each start, pause, resumption and stop is a row, and the promise follows from them."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from coachhub.camps.domain.promise import Span, due_at
from coachhub.camps.models import Camp
from coachhub.feedback.enums import ClockMove, ReviewState
from coachhub.feedback.models import ClockEvent, Review

FOLLOWS: dict[str, frozenset[str]] = {
    "": frozenset({ClockMove.START}),
    ClockMove.START: frozenset({ClockMove.PAUSE, ClockMove.STOP}),
    ClockMove.PAUSE: frozenset({ClockMove.RESUME, ClockMove.STOP}),
    ClockMove.RESUME: frozenset({ClockMove.PAUSE, ClockMove.STOP}),
    ClockMove.STOP: frozenset(),
}


def start_clock(review: Review, *, now: datetime) -> bool:
    return _move(review, ClockMove.START, "", now)


def pause_clock(review: Review, *, reason: str, now: datetime) -> bool:
    return _move(review, ClockMove.PAUSE, reason, now)


def resume_clock(review: Review, *, reason: str = "", now: datetime) -> bool:
    return _move(review, ClockMove.RESUME, reason, now)


def stop_clock(review: Review, *, reason: str = "", now: datetime) -> bool:
    return _move(review, ClockMove.STOP, reason, now)


@transaction.atomic
def _move(review: Review, move: str, reason: str, now: datetime) -> bool:
    """Write the move down and work the promise out anew. False: it doesn't follow, and nothing changed."""
    held = Review.objects.select_for_update().get(pk=review.pk)
    last = held.clock.last()
    if move not in FOLLOWS[last.move if last else ""]:
        return False
    terms = terms_of(held.submission.camp) if move == ClockMove.START else {}
    ClockEvent.objects.create(review=held, at=now, move=move, reason=reason[:120], terms=terms)
    review.due_at = promised(held)
    Review.objects.filter(pk=held.pk).update(due_at=review.due_at)
    return True


def promised(review: Review) -> datetime | None:
    """When the answer is due by the rows; None before the clock started and while it stands still."""
    events = list(review.clock.all())
    if not events or events[-1].move == ClockMove.PAUSE:
        return None
    terms = events[0].terms or terms_of(review.submission.camp)
    zone = ZoneInfo(terms["zone"])
    return due_at(events[0].at, terms["hours"], zone, terms["rest_days"], pauses_of(events))


def terms_of(camp: Camp) -> dict[str, Any]:
    """What the camp promises now."""
    return {"hours": camp.promise_hours, "zone": camp.time_zone, "rest_days": list(camp.rest_days)}


def pauses_of(events: list[ClockEvent]) -> list[Span]:
    """Each pause with the move that ended it, whether the clock ran on or stopped."""
    following = pairwise(events)
    return [(one.at, other.at) for one, other in following if one.move == ClockMove.PAUSE]


def resume_all(student_id: int, camp_id: int, *, reason: str, now: datetime) -> int:
    """The student wrote: every clock that stood still for a word of theirs runs again."""
    standing = Review.objects.filter(
        submission__student_id=student_id,
        submission__camp_id=camp_id,
        due_at=None,
        state__in=(ReviewState.WAITING, ReviewState.CLAIMED),
    )
    return sum(resume_clock(review, reason=reason, now=now) for review in standing)
