"""How long answers took against the promise: hours on the promise clock, and which came or are late. Two queries."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from statistics import median
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, QuerySet

from coachhub.camps.domain.promise import hours_run
from coachhub.camps.models import Camp, Cohort
from coachhub.feedback.domain.clock import terms_of
from coachhub.feedback.enums import ClockMove, ReviewState
from coachhub.feedback.models import ClockEvent, Review
from coachhub.videos.models import Submission

OPEN = (ReviewState.WAITING, ReviewState.CLAIMED)
# Shares of the promise at which the distribution is cut: the fourth bin ends where the promise does.
EDGES = (0.25, 0.5, 0.75, 1.0, 1.5, 2.0)


@dataclass(frozen=True)
class Answer:
    review_id: UUID
    student_name: str
    cohort: str
    coach: str
    usable_at: datetime | None
    due_at: datetime | None
    published_at: datetime | None
    opened_at: datetime | None
    is_paused: bool
    # On the promise clock, rest days and pauses left out; None before it started.
    hours: float | None
    is_late: bool
    # Who answered, or holds it; None where nobody has taken it.
    coach_id: int | None = None

    @property
    def is_open(self) -> bool:
        return self.published_at is None


@dataclass(frozen=True)
class Bin:
    from_hours: float
    to_hours: float
    answers: int
    within_promise: bool


@dataclass(frozen=True)
class Turnaround:
    promise_hours: int
    answers: tuple[Answer, ...]

    @property
    def published(self) -> list[Answer]:
        return [answer for answer in self.answers if not answer.is_open]

    @property
    def waiting(self) -> list[Answer]:
        return [answer for answer in self.answers if answer.is_open]

    @property
    def late(self) -> list[Answer]:
        """Overdue ones first, then those that came late, the latest at the top."""
        late = [answer for answer in self.answers if answer.is_late]
        return sorted(late, key=lambda answer: (not answer.is_open, -(answer.hours or 0)))

    @property
    def overdue(self) -> int:
        return sum(answer.is_late for answer in self.waiting)

    @property
    def kept(self) -> int:
        return sum(not answer.is_late for answer in self.published)

    @property
    def median_hours(self) -> float | None:
        hours = [answer.hours for answer in self.published if answer.hours is not None]
        return median(hours) if hours else None

    @property
    def bins(self) -> list[Bin]:
        """Published answers by hours on the clock."""
        hours = [answer.hours for answer in self.published if answer.hours is not None]
        cuts = [0.0, *(edge * self.promise_hours for edge in EDGES), math.inf]
        return [
            Bin(low, high, _between(hours, low, high), within_promise=high <= self.promise_hours)
            for low, high in pairwise(cuts)
        ]


def _between(hours: Iterable[float], low: float, high: float) -> int:
    """Over ``low`` up to and with ``high``; an answer after no time at all belongs to the first bin."""
    return sum(low < each <= high or each == low == 0 for each in hours)


def turnaround(camp: Camp, cohorts: Iterable[Cohort] | QuerySet[Cohort], *, now: datetime) -> Turnaround:
    clock = Prefetch("clock", queryset=ClockEvent.objects.order_by("at", "id"))
    reviews = (
        Review.objects.filter(submission__in=Submission.objects.sent_with_consent())
        .filter(submission__camp=camp, submission__cohort__in=cohorts)
        .filter(state__in=(*OPEN, ReviewState.PUBLISHED))
        .select_related("submission__student", "submission__cohort", "published_by", "claimed_by")
        .prefetch_related(clock)
        .order_by("submission__settled_at", "pk")
    )
    return Turnaround(camp.promise_hours, tuple(_answer(camp, review, now) for review in reviews))


def _answer(camp: Camp, review: Review, now: datetime) -> Answer:
    events = list(review.clock.all())
    start = next(
        (event.at for event in events if event.move == ClockMove.START), review.submission.settled_at
    )
    end = review.published_at or now
    coach = review.published_by or review.claimed_by
    return Answer(
        review_id=review.public_id,
        student_name=review.submission.student.name,
        cohort=review.submission.cohort.name,
        coach=coach.name if coach else "",
        usable_at=start,
        due_at=review.due_at,
        published_at=review.published_at,
        opened_at=review.opened_at,
        is_paused=bool(events) and events[-1].move == ClockMove.PAUSE,
        hours=hours_on_clock(camp, events, start, end),
        is_late=review.due_at is not None and end > review.due_at,
        coach_id=coach.pk if coach else None,
    )


def hours_on_clock(
    camp: Camp, events: list[ClockEvent], start: datetime | None, end: datetime
) -> float | None:
    """Hours that the promise clock ran between the two; rest days and pauses are left out."""
    if start is None or start > end:
        return None
    following = pairwise([*((event.move, event.at) for event in events), ("", end)])
    pauses = [(begin, stop) for (move, begin), (_, stop) in following if move == ClockMove.PAUSE]
    kept = [(begin, min(stop, end)) for begin, stop in pauses if begin < end]
    terms = (events[0].terms if events else None) or terms_of(camp)
    return hours_run(start, end, ZoneInfo(terms["zone"]), terms["rest_days"], kept)
