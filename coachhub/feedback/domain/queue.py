"""What waits for a coach, why, and in which order: alerts, then overdue, then pain, then by promised time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import (
    BooleanField,
    Case,
    CharField,
    Count,
    Exists,
    F,
    OuterRef,
    Q,
    QuerySet,
    TextChoices,
    Value,
    When,
)

from coachhub.accounts.models import User
from coachhub.feedback.domain.claims import CLAIM_LASTS
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.videos.enums import ClipState
from coachhub.videos.models import Clip


class Reason(TextChoices):
    """Why something waits. A review may have several; the order is that of the list on the page."""

    RED_FLAG = "red_flag", "pain alert"
    OVERDUE = "overdue", "overdue"
    PAIN = "pain", "pain noted"
    REPLY = "reply", "reply to read"
    FIRST = "first", "first of this student"
    BACK = "back", "put off until now"
    NEW = "new", "new"


class Pile(TextChoices):
    """The parts of the work. A review lies on exactly one of them, or on none when there is nothing to do."""

    WAITING = "waiting", "waiting for me"
    OTHERS = "others", "with another coach"
    OFF = "off", "put off"
    STUDENT = "student", "waiting for the student"


@dataclass(frozen=True)
class Wanted:
    """What the coach chose to see. An empty choice filters nothing."""

    pile: str = Pile.WAITING
    cohort: UUID | None = None
    reason: str = ""
    view: str = ""
    club: str = ""
    mine: bool = False


def queue_of(user: User, wanted: Wanted, *, now: datetime) -> QuerySet[Review]:
    """The reviews of one pile, most urgent first."""
    if wanted.pile not in Pile.values:
        raise ValueError(f"pile must be one of {Pile.values}, not {wanted.pile!r}")
    chosen = _piled(user, wanted, now).filter(pile=wanted.pile)
    if wanted.reason:
        chosen = chosen.filter(reason_condition(wanted.reason, now))
    if wanted.mine:
        chosen = chosen.filter(state=ReviewState.CLAIMED, claimed_by=user)
    return in_order(chosen, now)


def _piled(user: User, wanted: Wanted, now: datetime) -> QuerySet[Any]:
    reviews = Review.objects.writable_by(user).exclude(state__in=(ReviewState.COMING, ReviewState.DROPPED))
    return _narrowed(reviews, wanted).annotate(pile=pile_of(user, now))


def _narrowed(reviews: QuerySet[Review], wanted: Wanted) -> QuerySet[Review]:
    if wanted.cohort:
        reviews = reviews.filter(submission__cohort__public_id=wanted.cohort)
    if wanted.club:
        reviews = reviews.filter(submission__club_class=wanted.club)
    if wanted.view:
        seen = Clip.objects.filter(submission=OuterRef("submission"), view=wanted.view)
        reviews = reviews.filter(Exists(seen.exclude(state=ClipState.REFUSED)))
    return reviews


def in_order(reviews: QuerySet[Review], now: datetime) -> QuerySet[Review]:
    """A reply has no promise of its own; it takes its place by the time it was written."""
    return reviews.annotate(
        is_overdue=Case(
            When(_overdue(now), then=Value(True)), default=Value(False), output_field=BooleanField()
        ),
        rank_at=Case(When(state=ReviewState.PUBLISHED, then=F("reply_waiting_since")), default=F("due_at")),
    ).order_by("-has_red_flag", "-is_overdue", "-has_pain", F("rank_at").asc(nulls_last=True), "pk")


def pile_of(user: User, now: datetime) -> Case:
    """On which pile a review lies for this coach: the first line that holds; None: nothing is to be done."""
    reply = Q(reply_waiting_since__isnull=False)
    answered = Q(state=ReviewState.PUBLISHED)
    stands_still = Q(due_at=None)
    elsewhere = Q(state=ReviewState.CLAIMED, claimed_at__gte=now - CLAIM_LASTS) & ~Q(claimed_by=user)
    # Put off is only what may wait: never a pain alert, a broken promise or a student's word.
    put_off = Q(deferred_until__gt=now, due_at__gt=now, has_red_flag=False, reply_waiting_since=None)
    return Case(
        When(answered & reply, then=Value(Pile.WAITING)),
        When(answered, then=Value(None)),
        When(stands_still & reply, then=Value(Pile.WAITING)),
        When(stands_still, then=Value(Pile.STUDENT)),
        When(elsewhere, then=Value(Pile.OTHERS)),
        When(put_off, then=Value(Pile.OFF)),
        default=Value(Pile.WAITING),
        output_field=CharField(),
    )


def reason_condition(reason: str, now: datetime) -> Q:
    """The same as ``reasons_of``, for the database."""
    unanswered = ~Q(state=ReviewState.PUBLISHED)
    conditions = {
        Reason.RED_FLAG: Q(has_red_flag=True),
        Reason.OVERDUE: _overdue(now),
        Reason.PAIN: Q(has_pain=True, has_red_flag=False),
        Reason.REPLY: Q(reply_waiting_since__isnull=False),
        Reason.FIRST: unanswered & Q(is_first=True),
        Reason.BACK: unanswered & Q(deferred_until__lte=now),
        Reason.NEW: unanswered & Q(is_first=False, deferred_until=None, reply_waiting_since=None),
    }
    if reason not in Reason.values:
        raise ValueError(f"reason must be one of {Reason.values}, not {reason!r}")
    return conditions[Reason(reason)]


def _overdue(now: datetime) -> Q:
    return Q(due_at__lt=now) & ~Q(state=ReviewState.PUBLISHED)


def reasons_of(review: Review, now: datetime) -> list[Reason]:
    unanswered = review.state != ReviewState.PUBLISHED
    reply = review.reply_waiting_since is not None
    put_off = review.deferred_until
    holds = {
        Reason.RED_FLAG: review.has_red_flag,
        Reason.OVERDUE: unanswered and review.due_at is not None and review.due_at < now,
        Reason.PAIN: review.has_pain and not review.has_red_flag,
        Reason.REPLY: reply,
        Reason.FIRST: unanswered and review.is_first,
        Reason.BACK: unanswered and put_off is not None and put_off <= now,
        Reason.NEW: unanswered and not review.is_first and put_off is None and not reply,
    }
    return [reason for reason in Reason if holds[reason]]


@dataclass(frozen=True)
class Counts:
    piles: dict[str, int]
    # Of the pile that waits for me.
    reasons: dict[str, int]
    mine: int


def count(user: User, wanted: Wanted, *, now: datetime) -> Counts:
    """How many are left on each pile, within the chosen cohort, view and club; one query."""
    columns = {reason: Count("pk", filter=reason_condition(reason, now)) for reason in Reason.values}
    mine = Count("pk", filter=Q(state=ReviewState.CLAIMED, claimed_by=user))
    rows = (
        _piled(user, wanted, now)
        .order_by()
        .values("pile")
        .annotate(everything=Count("pk"), mine=mine, **columns)
    )
    found = {row["pile"]: row for row in rows}
    waiting = found.get(Pile.WAITING, {})
    return Counts(
        piles={pile: found.get(pile, {}).get("everything", 0) for pile in Pile.values},
        reasons={reason: waiting.get(reason, 0) for reason in Reason.values},
        mine=sum(row["mine"] for row in rows),
    )


def by_student(reviews: QuerySet[Review]) -> list[int]:
    """Ids with each student's work side by side; the student with the most urgent piece comes first."""
    groups: dict[int, list[int]] = {}
    for pk, student_id in reviews.values_list("pk", "submission__student_id"):
        groups.setdefault(student_id, []).append(pk)
    return [pk for group in groups.values() for pk in group]
