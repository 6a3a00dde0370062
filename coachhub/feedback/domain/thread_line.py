"""All that happened between a student and the camp's coaches, in order: sent, measured, answered, said, practised."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Q

from coachhub.accounts.models import User
from coachhub.common.rules import can
from coachhub.feedback.domain.threads import in_order
from coachhub.feedback.enums import PracticeKind
from coachhub.feedback.models import Message, Practice, Thread, ThreadRead
from coachhub.swings.enums import SignKey, Verdict
from coachhub.swings.models import SignJudgement
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission

PAGE = 40


@dataclass(frozen=True)
class Entry:
    """One of: a message (an answer is one), what was sent, or practice that was noted."""

    at: datetime
    message: Message | None = None
    is_new: bool = False
    # Who else has read the message.
    read_by: tuple[str, ...] = ()
    # Signs that the coach confirmed, with an answer.
    signs: tuple[str, ...] = ()
    submission: Submission | None = None
    practice: Practice | None = None


@dataclass(frozen=True)
class Line:
    """The newest page, or the one before ``before``; oldest first. ``earlier``: where the page before it ends."""

    entries: tuple[Entry, ...]
    earlier: datetime | None


def thread_line(thread: Thread, reader: User, *, before: datetime | None = None) -> Line:
    """``reader`` sees the thread; a fixed number of queries, whatever its length."""
    found = [
        *_messages(thread, reader, before),
        *_sent(thread, reader, before),
        *_practised(thread, reader, before),
    ]
    found.sort(key=lambda entry: entry.at)
    shown = tuple(found[-PAGE:])
    return Line(shown, shown[0].at if len(found) > PAGE else None)


def _messages(thread: Thread, reader: User, before: datetime | None) -> list[Entry]:
    rows = in_order(thread).select_related("say_back", "review__drill", "lesson__lesson__drill__film__clip")
    rows = rows.prefetch_related("lesson__practice", "review__practice").filter(_until("created_at", before))
    messages = list(rows.order_by("-created_at", "-id")[: PAGE + 1])[::-1]
    reads = list(ThreadRead.objects.filter(thread=thread).select_related("user").order_by("user__name", "pk"))
    seen = next((one.read_until for one in reads if one.user_id == reader.pk), None)
    signs = _signs(thread, reader, messages)
    return [
        Entry(
            message.created_at,
            message=message,
            is_new=message.author_id != reader.pk and (seen is None or message.created_at > seen),
            read_by=tuple(
                one.user.name
                for one in reads
                if one.user_id not in (message.author_id, reader.pk) and one.read_until >= message.created_at
            ),
            signs=signs.get(message.review.submission_id, ()) if message.review else (),
        )
        for message in messages
    ]


def _signs(thread: Thread, reader: User, messages: list[Message]) -> dict[int, tuple[str, ...]]:
    """Submission to its confirmed signs, where the camp shows them to who reads."""
    if not (thread.camp.students_see_trends or can(reader, "camps.see_names", thread)):
        return {}
    answered = [one.review.submission_id for one in messages if one.kind == "feedback" and one.review]
    rows = SignJudgement.objects.filter(swing__clip__submission__in=answered, verdict=Verdict.AGREE)
    found: dict[int, tuple[str, ...]] = {}
    labels = dict(SignKey.choices)
    pairs = rows.order_by("sign").values_list("swing__clip__submission_id", "sign").distinct()
    for submission, sign in pairs:
        if submission is not None:
            found[submission] = (*found.get(submission, ()), str(labels.get(sign, sign)))
    return found


def _sent(thread: Thread, reader: User, before: datetime | None) -> list[Entry]:
    rows = (
        Submission.objects.visible_to(reader)
        .filter(
            _until("sent_at", before), student=thread.student_id, camp=thread.camp_id, sent_at__isnull=False
        )
        .exclude(state__in=(SubmissionState.OPEN, SubmissionState.WITHDRAWN))
        .annotate(
            clip_count=Count("clips", distinct=True),
            measured=Count(
                "clips__swings", filter=Q(clips__swings__readouts__is_current=True), distinct=True
            ),
        )
        .order_by("-sent_at", "-id")[: PAGE + 1]
    )
    return [Entry(row.sent_at, submission=row) for row in rows if row.sent_at is not None]


def _practised(thread: Thread, reader: User, before: datetime | None) -> list[Entry]:
    """What was not understood or hurt stands there as a message already."""
    rows = Practice.objects.visible_to(reader).of(thread.student_id, thread.camp_id).with_drills()
    done = rows.filter(_until("created_at", before), kind=PracticeKind.DONE)
    return [Entry(row.created_at, practice=row) for row in done.order_by("-created_at", "-id")[: PAGE + 1]]


def _until(field: str, before: datetime | None) -> Q:
    return Q(**{f"{field}__lt": before}) if before else Q()
