"""What a student says of the drill of an answer: practised, not understood, or hurting."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from uuid import UUID, uuid4

from django.db import transaction

from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.feedback.domain.threads import post_message, thread_for
from coachhub.feedback.enums import MessageKind, PracticeKind, ReviewState
from coachhub.feedback.models import Practice, Review

MOST_BALLS = 500
LONGEST_NOTE = 500
NOT_ANSWERED_YET = (ReviewState.COMING, ReviewState.WAITING, ReviewState.CLAIMED)
SAID_TO_COACH = {
    PracticeKind.UNCLEAR: "I don't understand the drill.",
    PracticeKind.HURTS: "The drill hurts. I have stopped it.",
}


@transaction.atomic
def log_practice(
    review: Review,
    kind: str,
    *,
    by: User,
    on_day: date,
    balls: int | None = None,
    note: str = "",
    now: datetime,
    public_id: UUID | None = None,
) -> Practice:
    """Write down what the student did or felt. The same words with the same ``public_id`` twice are written once."""
    _refuse_unless_answered(review, by)
    fields = _checked(review, kind, on_day=on_day, balls=balls, note=note, now=now)
    practice, is_new = Practice.objects.get_or_create(
        review=review, public_id=_free_id(review, public_id, fields), defaults={**fields, "created_at": now}
    )
    if not is_new:
        return practice
    record(f"practice.{kind}", practice, by=by, now=now, scope=review.submission.camp.public_id)
    if kind == PracticeKind.HURTS:
        _raise_pain(review)
    if kind in SAID_TO_COACH:
        _tell_coach(practice, by=by, now=now)
    return practice


def pain_since_last_answer(student: User, camp: Camp) -> bool:
    """Whether the drill of the latest answer was said to hurt: the next review starts with that."""
    latest = (
        Review.objects.filter(submission__student=student, submission__camp=camp, state=ReviewState.PUBLISHED)
        .order_by("-published_at")
        .first()
    )
    return latest is not None and latest.practice.filter(kind=PracticeKind.HURTS).exists()


def _raise_pain(review: Review) -> None:
    """The answer whose drill hurts, and the work that waits, both say "pain" in the coach's queue."""
    submission = review.submission
    waiting = Review.objects.filter(
        submission__student_id=submission.student_id,
        submission__camp_id=submission.camp_id,
        state__in=NOT_ANSWERED_YET,
    )
    (waiting | Review.objects.filter(pk=review.pk)).filter(has_pain=False).update(has_pain=True)


def _tell_coach(practice: Practice, *, by: User, now: datetime) -> None:
    review = practice.review
    thread = thread_for(by, review.submission.camp, now=now)
    text = " ".join(filter(None, (SAID_TO_COACH[PracticeKind(practice.kind)], practice.note)))
    post_message(thread, by=by, text=text, review=review, kind=MessageKind.NOTE, now=now)


def _refuse_unless_answered(review: Review, by: User) -> None:
    if review.submission.student_id != by.pk:
        raise RuleBroken("not_yours", "Only the student who got this answer can do that.")
    if review.state != ReviewState.PUBLISHED:
        raise RuleBroken("not_published", "There is no answer to practise yet.")


def _checked(
    review: Review, kind: str, *, on_day: date, balls: int | None, note: str, now: datetime
) -> dict[str, object]:
    if kind not in PracticeKind.values:
        raise ValueError(f"kind must be one of {PracticeKind.values}, not {kind!r}")
    if balls is not None and not 0 <= balls <= MOST_BALLS:
        raise RuleBroken("balls", f"Give a number of balls from 0 to {MOST_BALLS}.")
    if len(note.strip()) > LONGEST_NOTE:
        raise RuleBroken("too_long", f"A note can have {LONGEST_NOTE} characters. Send the rest as a reply.")
    if not _first_day(review) <= on_day <= (now + timedelta(hours=14)).date():
        raise RuleBroken("day", "Give a day between the answer and today.")
    return {"kind": kind, "on_day": on_day, "balls": balls, "note": note.replace("\x00", "").strip()}


def _first_day(review: Review) -> date:
    # The answer's day on the last place on Earth where it was still yesterday.
    assert review.published_at is not None
    return (review.published_at - timedelta(hours=12)).date()


def _free_id(review: Review, wanted: UUID | None, fields: dict[str, object]) -> UUID:
    """The wanted id, unless something else was said with it: a form sent again after going back is news."""
    wanted = wanted or uuid4()
    taken = Practice.objects.filter(public_id=wanted)
    same = taken.filter(review=review, **fields)
    return uuid4() if taken.exists() and not same.exists() else wanted
