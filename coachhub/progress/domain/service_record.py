"""What a student was promised and got, submission by submission: the answer to any later dispute."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from uuid import UUID

from django.db.models import Prefetch, QuerySet

from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.common.models import Event
from coachhub.feedback.enums import ClockMove, ReviewState
from coachhub.feedback.models import ClockEvent, Review
from coachhub.progress.domain.turnaround import hours_on_clock
from coachhub.videos.enums import ClipState, SubmissionState
from coachhub.videos.models import Clip, Submission


@dataclass(frozen=True)
class Refusal:
    clip: int
    at: datetime | None
    reason: str
    # A coach looked at it all the same.
    allowed_later: bool


@dataclass(frozen=True)
class Pause:
    since: datetime
    until: datetime | None
    reason: str


@dataclass(frozen=True)
class Service:
    """One submission, from its arrival to the moment its answer was opened. Hours run on the promise clock."""

    submission_id: UUID
    club_class: str
    state: str
    clips: int
    received_at: datetime | None
    refusals: tuple[Refusal, ...]
    clock_from: datetime | None
    promise_hours: int | None
    pauses: tuple[Pause, ...]
    promised_at: datetime | None
    delivered_at: datetime | None
    delivered_by: str
    opened_at: datetime | None
    hours: float | None
    is_late: bool

    @property
    def state_words(self) -> str:
        return str(SubmissionState(self.state).label)


@dataclass(frozen=True)
class Place:
    cohort: str
    student: str


def service_record(member: Membership, *, now: datetime) -> list[Service]:
    """Of one student, the latest first. Four queries, however many submissions."""
    rows = Submission.objects.filter(student=member.user, camp=member.camp).order_by("-sent_at", "-pk")
    return [service for _, service in _services(rows, now)]


def service_records(camp: Camp, cohorts: Iterable[Cohort], *, now: datetime) -> list[tuple[Place, Service]]:
    """Of all students who agree that coaches and organisers see it, by cohort and name; as many queries as for one."""
    rows = Submission.objects.sent_with_consent().filter(camp=camp, cohort__in=list(cohorts))
    ordered = rows.order_by("cohort__name", "student__name", "student_id", "-sent_at", "-pk")
    return [(Place(row.cohort.name, row.student.name), service) for row, service in _services(ordered, now)]


def _services(rows: QuerySet[Submission], now: datetime) -> list[tuple[Submission, Service]]:
    clock = Prefetch("review__clock", queryset=ClockEvent.objects.order_by("at", "id"))
    clips = Prefetch("clips", queryset=Clip.objects.order_by("number"))
    found = list(
        rows.exclude(state=SubmissionState.OPEN)
        .select_related("camp", "cohort", "student", "review__published_by")
        .prefetch_related(clock, clips)
    )
    refused = _refused_at([clip.public_id for row in found for clip in row.clips.all()])
    return [(row, _service(row, refused, now)) for row in found]


_Refused = dict[UUID, tuple[datetime, str]]


def _refused_at(clips: list[UUID]) -> _Refused:
    """When each clip was refused and with which code; also of those that a coach allowed later."""
    rows = Event.objects.filter(verb="clip.refused", thing_id__in=clips).order_by("at", "pk")
    return {row.thing_id: (row.at, str(row.detail.get("code", ""))) for row in rows}


def _service(row: Submission, refused: _Refused, now: datetime) -> Service:
    review: Review | None = getattr(row, "review", None)
    events = list(review.clock.all()) if review is not None else []
    start = next((one for one in events if one.move == ClockMove.START), None)
    published = review if review is not None and review.state == ReviewState.PUBLISHED else None
    delivered = published.published_at if published else None
    promised = review.due_at if review is not None else None
    open_now = promised is not None and delivered is None and row.state == SubmissionState.USABLE
    return Service(
        submission_id=row.public_id,
        club_class=str(row.get_club_class_display()),
        state=row.state,
        clips=len(row.clips.all()),
        received_at=row.sent_at,
        refusals=tuple(_refusals(list(row.clips.all()), refused)),
        clock_from=start.at if start else None,
        promise_hours=start.terms.get("hours") if start else None,
        pauses=tuple(_pauses(events)),
        promised_at=promised,
        delivered_at=delivered,
        delivered_by=published.published_by.name if published and published.published_by else "",
        opened_at=published.opened_at if published else None,
        hours=hours_on_clock(row.camp, events, start.at, delivered or now) if start else None,
        is_late=promised is not None and (delivered > promised if delivered else open_now and now > promised),
    )


def _refusals(clips: list[Clip], refused: _Refused) -> list[Refusal]:
    found = []
    for clip in clips:
        at, code = refused.get(clip.public_id, (None, ""))
        if clip.state == ClipState.REFUSED or at is not None:
            reason = clip.refused_text or code.replace("_", " ")
            found.append(Refusal(clip.number, at, reason, allowed_later=clip.state != ClipState.REFUSED))
    return found


def _pauses(events: list[ClockEvent]) -> list[Pause]:
    following = pairwise([*events, None])
    return [
        Pause(one.at, other.at if other else None, one.reason)
        for one, other in following
        if one is not None and one.move == ClockMove.PAUSE
    ]
