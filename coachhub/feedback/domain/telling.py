"""What of the talk between student and coach is worth a notice, and where it leads."""

from __future__ import annotations

from datetime import datetime

from django.urls import reverse

from coachhub.accounts.domain.notices import tell
from coachhub.accounts.enums import NoticeKind
from coachhub.accounts.models import Notice, User
from coachhub.camps.enums import MemberState, Role
from coachhub.feedback.models import Message, Practice, Review, Thread


def tell_answer(review: Review, *, now: datetime) -> list[Notice]:
    submission = review.submission
    return tell(
        submission.student,
        NoticeKind.ANSWER,
        about=review.public_id,
        path=reverse("student:answer", kwargs={"public_id": review.public_id}),
        guardian_path=reverse("guardian:answer", kwargs={"public_id": review.public_id}),
        scope=submission.camp.public_id,
        words={"camp": submission.camp.name},
        now=now,
    )


def tell_message(message: Message, *, kind: str = NoticeKind.MESSAGE, now: datetime) -> list[Notice]:
    """What a coach says in the thread. What a student says stands in the coach's queue."""
    thread = message.thread
    if message.author_id == thread.student_id:
        return []
    return tell(
        thread.student,
        kind,
        about=message.public_id,
        path=reverse("student:thread", kwargs={"public_id": thread.public_id}),
        guardian_path=reverse("guardian:thread", kwargs={"public_id": thread.public_id}),
        scope=thread.camp.public_id,
        words={"camp": thread.camp.name},
        by=message.author,
        now=now,
    )


def tell_of_pain(practice: Practice, thread: Thread, *, now: datetime) -> list[Notice]:
    """A drill hurts: the coaches of the cohort and the student's guardians hear of it, wherever they are."""
    told = tell(
        thread.student,
        NoticeKind.HURTS,
        about=practice.public_id,
        path=reverse("student:thread", kwargs={"public_id": thread.public_id}),
        guardian_path=reverse("guardian:thread", kwargs={"public_id": thread.public_id}),
        scope=thread.camp.public_id,
        by=thread.student,
        now=now,
    )
    path = reverse("coach:thread", kwargs={"public_id": thread.public_id})
    for coach in _coaches(thread):
        told += tell(
            coach,
            NoticeKind.HURTS,
            about=practice.public_id,
            path=path,
            scope=thread.camp.public_id,
            now=now,
        )
    return told


def _coaches(thread: Thread) -> list[User]:
    held = thread.cohort.memberships.filter(role=Role.COACH, state=MemberState.ACTIVE)
    return list(User.objects.filter(pk__in=held.values("user_id"), is_active=True).order_by("pk"))
