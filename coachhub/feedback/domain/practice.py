"""What a student says of the drill of an answer or a lesson: practised, not understood, or hurting."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import Q

from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.feedback.domain.telling import tell_of_pain
from coachhub.feedback.domain.threads import post_message, thread_for
from coachhub.feedback.enums import MessageKind, PracticeKind, ReviewState
from coachhub.feedback.models import LessonDelivery, Practice, Review

# What brought the drill.
Source = Review | LessonDelivery

MOST_BALLS = 500
LONGEST_NOTE = 500
NOT_ANSWERED_YET = (ReviewState.COMING, ReviewState.WAITING, ReviewState.CLAIMED)
SAID_TO_COACH = {
    PracticeKind.UNCLEAR: "I don't understand the drill.",
    PracticeKind.HURTS: "The drill hurts. I have stopped it.",
}


@transaction.atomic
def log_practice(
    source: Source,
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
    _refuse_unless_own(source, by)
    fields = _checked(source, kind, on_day=on_day, balls=balls, note=note, now=now)
    practice, is_new = Practice.objects.get_or_create(
        public_id=_free_id(source, public_id, fields), **_of(source), defaults={**fields, "created_at": now}
    )
    if not is_new:
        return practice
    if kind == PracticeKind.DONE and is_stopped(source):
        raise RuleBroken(
            "stopped",
            "You said that this drill hurts, so it is stopped. Wait until your coach has answered you.",
        )
    record(f"practice.{kind}", practice, by=by, now=now, scope=camp_of(source).public_id)
    if kind == PracticeKind.HURTS:
        _raise_pain(source)
    if kind in SAID_TO_COACH:
        _tell_coach(practice, source, by=by, now=now)
    return practice


def is_stopped(source: Source) -> bool:
    """Said to hurt: nothing more is noted as practised, until a coach gives a drill anew."""
    return source.practice.filter(kind=PracticeKind.HURTS).exists()


def drills_that_hurt(student: User | int, camp: Camp | int) -> set[int]:
    """Drills that the student ever said hurt, in this camp."""
    said = Practice.objects.of(student, camp).filter(kind=PracticeKind.HURTS)
    rows = said.values_list("review__drill_id", "delivery__lesson__drill_id")
    return {drill for row in rows for drill in row if drill is not None}


def camp_of(source: Source) -> Camp:
    if isinstance(source, Review):
        return source.submission.camp
    return source.message.thread.camp


def student_of(source: Source) -> User:
    if isinstance(source, Review):
        return source.submission.student
    return source.message.thread.student


def given_at(source: Source) -> datetime:
    if isinstance(source, Review):
        assert source.published_at is not None
        return source.published_at
    return source.message.created_at


def pain_since_last_answer(student: User, camp: Camp) -> bool:
    """Whether a drill was said to hurt since the latest answer: the next review starts with that."""
    latest = _latest_answer(student, camp)
    if latest is None:
        return False
    said = Practice.objects.of(student, camp).filter(kind=PracticeKind.HURTS)
    return said.filter(
        Q(review=latest) | Q(delivery__isnull=False, created_at__gte=given_at(latest))
    ).exists()


def _latest_answer(student: User, camp: Camp) -> Review | None:
    answers = Review.objects.filter(
        submission__student=student, submission__camp=camp, state=ReviewState.PUBLISHED
    )
    return answers.order_by("-published_at").first()


def _raise_pain(source: Source) -> None:
    """The answer whose drill hurts, and the work that waits, both say "pain" in the coach's queue."""
    student, camp = student_of(source), camp_of(source)
    waiting = Review.objects.filter(
        submission__student=student, submission__camp=camp, state__in=NOT_ANSWERED_YET
    )
    answered = source if isinstance(source, Review) else _latest_answer(student, camp)
    ids = [answered.pk] if answered else []
    (waiting | Review.objects.filter(pk__in=ids)).filter(has_pain=False).update(has_pain=True)


def _tell_coach(practice: Practice, source: Source, *, by: User, now: datetime) -> None:
    thread = thread_for(by, camp_of(source), now=now)
    review = source if isinstance(source, Review) else None
    text = " ".join(filter(None, (SAID_TO_COACH[PracticeKind(practice.kind)], practice.note)))
    post_message(thread, by=by, text=text, review=review, kind=MessageKind.NOTE, now=now)
    if practice.kind == PracticeKind.HURTS:
        tell_of_pain(practice, thread, now=now)


def _of(source: Source) -> dict[str, Source]:
    return {"review" if isinstance(source, Review) else "delivery": source}


def _refuse_unless_own(source: Source, by: User) -> None:
    if student_of(source).pk != by.pk:
        raise RuleBroken("not_yours", "Only the student who got this answer can do that.")
    if isinstance(source, LessonDelivery):
        if source.lesson.drill_id is None or not source.with_drill:
            raise RuleBroken("no_drill", "This lesson has no drill for you.")
    elif source.state != ReviewState.PUBLISHED:
        raise RuleBroken("not_published", "There is no answer to practise yet.")


def _checked(
    source: Source, kind: str, *, on_day: date, balls: int | None, note: str, now: datetime
) -> dict[str, object]:
    if kind not in PracticeKind.values:
        raise ValueError(f"kind must be one of {PracticeKind.values}, not {kind!r}")
    if balls is not None and not 0 <= balls <= MOST_BALLS:
        raise RuleBroken("balls", f"Give a number of balls from 0 to {MOST_BALLS}.")
    if len(note.strip()) > LONGEST_NOTE:
        raise RuleBroken("too_long", f"A note can have {LONGEST_NOTE} characters. Send the rest as a reply.")
    if not _first_day(source) <= on_day <= (now + timedelta(hours=14)).date():
        raise RuleBroken("day", "Give a day between the answer and today.")
    return {"kind": kind, "on_day": on_day, "balls": balls, "note": note.replace("\x00", "").strip()}


def _first_day(source: Source) -> date:
    # The answer's day on the last place on Earth where it was still yesterday.
    return (given_at(source) - timedelta(hours=12)).date()


def _free_id(source: Source, wanted: UUID | None, fields: dict[str, object]) -> UUID:
    """The wanted id, unless something else was said with it: a form sent again after going back is news."""
    wanted = wanted or uuid4()
    taken = Practice.objects.filter(public_id=wanted)
    same = taken.filter(**_of(source), **fields)
    return uuid4() if taken.exists() and not same.exists() else wanted
