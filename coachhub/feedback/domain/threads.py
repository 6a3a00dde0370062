"""One conversation per student and camp: answers, replies, notes, and how far each person has read."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet

from coachhub.accounts.domain.guardians import answers_for, refuse_unless_read_along
from coachhub.accounts.enums import NoticeKind
from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.camps.models import Camp, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.feedback.domain.clock import resume_all
from coachhub.feedback.enums import MessageKind, ReviewState
from coachhub.feedback.models import Message, Review, Thread, ThreadRead

LONGEST_MESSAGE = 4000


def thread_for(student: User, camp: Camp, *, now: datetime) -> Thread:
    """The student's thread in this camp; made at the first need."""
    place = Membership.objects.filter(user=student, camp=camp, role=Role.STUDENT).first()
    if place is None or place.cohort_id is None:
        raise ValueError(
            f"student must be a student of camp {camp.public_id}, and {student.public_id} is not"
        )
    thread, _ = Thread.objects.get_or_create(
        camp=camp, student=student, defaults={"cohort_id": place.cohort_id, "created_at": now}
    )
    return thread


@transaction.atomic
def post_message(
    thread: Thread,
    *,
    by: User,
    text: str,
    review: Review | None = None,
    kind: str = MessageKind.REPLY,
    news: str = NoticeKind.MESSAGE,
    now: datetime,
    public_id: UUID | None = None,
) -> Message:
    """Say something in the thread. The same text with the same ``public_id`` twice (a double tap) is said once.

    ``news``: what a coach's word is to who is told of it.
    """
    words = _words(text)
    refuse_unless_may_write(thread, by)
    if review is not None and review.submission.student_id != thread.student_id:
        raise ValueError(f"review must be one of the thread's student, not {review.public_id}")
    message, is_new = Message.objects.get_or_create(
        thread=thread,
        author=by,
        public_id=_free_id(thread, by, words, public_id),
        defaults={"kind": _kind(thread, by, kind), "text": words, "review": review, "created_at": now},
    )
    if not is_new:
        return message
    record("message.posted", message, by=by, now=now, scope=thread.camp.public_id)
    if by.pk == thread.student_id:
        _note_answer(thread, message)
        _ask_for_coach(thread, now=now)
        resume_all(thread.student_id, thread.camp_id, reason="the student wrote", now=now)
    elif message.kind == MessageKind.GUARDIAN:
        _ask_for_coach(thread, now=now)
        _tell(message, NoticeKind.MESSAGE, now=now)
    else:
        _answered(thread)
        _tell(message, news, now=now)
    mark_read(thread, by=by, now=now)
    return message


@transaction.atomic
def post_feedback(review: Review, *, by: User, text: str = "", now: datetime) -> Message:
    """The answer itself, once per review."""
    submission = review.submission
    refuse_unless_read_along(submission.student)
    thread = thread_for(submission.student, submission.camp, now=now)
    message, is_new = Message.objects.get_or_create(
        review=review,
        kind=MessageKind.FEEDBACK,
        defaults={"thread": thread, "author": by, "text": text.strip(), "created_at": now},
    )
    if is_new:
        _answered(thread)
        mark_read(thread, by=by, now=now)
    return message


def post_lesson(thread: Thread, *, by: User, text: str, now: datetime) -> Message:
    """A lesson for many: it answers nobody's question, so a reply that waits for the coach goes on waiting."""
    message = Message.objects.create(
        thread=thread, author=by, kind=MessageKind.NOTE, text=_words(text), created_at=now
    )
    _tell(message, NoticeKind.LESSON, now=now)
    return message


def _tell(message: Message, kind: str, *, now: datetime) -> None:
    from coachhub.feedback.domain.telling import tell_message

    tell_message(message, kind=kind, now=now)


def refuse_unless_may_write(thread: Thread, by: User) -> None:
    """To a minor only with a guardian who reads it too; the minor always may ask for help."""
    if by.pk != thread.student_id:
        refuse_unless_read_along(thread.student)


def _kind(thread: Thread, by: User, kind: str) -> str:
    return MessageKind.GUARDIAN if answers_for(by, thread.student) else kind


def settle_unless_later(message: Message) -> None:
    """The coach has read this one; it waits no more, unless the student wrote again after it."""
    thread = message.thread
    later = thread.messages.filter(author_id=thread.student_id, id__gt=message.pk)
    if not later.exists():
        _answered(thread)


def _note_answer(thread: Thread, message: Message) -> None:
    from coachhub.feedback.domain.questions import note_answer

    note_answer(thread, message)


def mark_read(thread: Thread, *, by: User, now: datetime) -> None:
    """Move the person's bookmark forward, never back."""
    bookmark, is_new = ThreadRead.objects.get_or_create(thread=thread, user=by, defaults={"read_until": now})
    if not is_new:
        ThreadRead.objects.filter(pk=bookmark.pk, read_until__lt=now).update(read_until=now)


def read_until(thread: Thread, user: User) -> datetime | None:
    return ThreadRead.objects.filter(thread=thread, user=user).values_list("read_until", flat=True).first()


def unread(user: User) -> QuerySet[Message]:
    """Messages of others that the person has not seen yet, in every thread in sight."""
    seen = ThreadRead.objects.filter(
        thread=OuterRef("thread"), user=user, read_until__gte=OuterRef("created_at")
    )
    return (
        Message.objects.filter(~Exists(seen), thread__in=Thread.objects.visible_to(user))
        .exclude(author=user)
        .order_by("created_at", "id")
    )


def in_order(thread: Thread) -> QuerySet[Message]:
    related = (
        "author",
        "review__submission",
        "lesson__lesson__drill",
        "lesson__lesson__clip__reference",
        "case_post__case",
    )
    return thread.messages.select_related(*related).order_by("created_at", "id")


def _ask_for_coach(thread: Thread, *, now: datetime) -> None:
    """Put the thread into the coach's queue; the oldest unanswered word keeps its time."""
    review = _review_that_carries(thread)
    if review is not None:
        Review.objects.filter(pk=review.pk, reply_waiting_since=None).update(reply_waiting_since=now)


def _answered(thread: Thread) -> None:
    Review.objects.filter(
        submission__student_id=thread.student_id,
        submission__camp_id=thread.camp_id,
        reply_waiting_since__isnull=False,
    ).update(reply_waiting_since=None)


def _review_that_carries(thread: Thread) -> Review | None:
    """The latest answer; before the first answer the submission that waits for it."""
    own = Review.objects.filter(
        submission__student_id=thread.student_id, submission__camp_id=thread.camp_id
    ).exclude(state=ReviewState.DROPPED)
    waiting = own.filter(~Q(state=ReviewState.PUBLISHED)).order_by("-created_at", "-id")
    published = own.filter(state=ReviewState.PUBLISHED).order_by(F("published_at").desc(), "-id")
    return published.first() or waiting.first()


def _words(text: str) -> str:
    words = text.replace("\x00", "").strip()
    if not words:
        raise RuleBroken("empty", "Write something first.")
    if len(words) > LONGEST_MESSAGE:
        raise RuleBroken(
            "too_long",
            f"A message can have {LONGEST_MESSAGE} characters; yours has {len(words)}. Send it in two.",
        )
    return words


def _free_id(thread: Thread, by: User, words: str, wanted: UUID | None) -> UUID:
    """The wanted id, unless something else was said with it: a form sent again after going back is news."""
    wanted = wanted or uuid4()
    taken = Message.objects.filter(public_id=wanted)
    same = taken.filter(thread=thread, author=by, text=words)
    return uuid4() if taken.exists() and not same.exists() else wanted
