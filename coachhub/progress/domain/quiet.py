"""Who has gone quiet: takes part, and nothing was sent, written or practised for some days while the camp is on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import Max

from coachhub.accounts.domain.consent import allowing
from coachhub.accounts.enums import Purpose
from coachhub.camps.domain.weeks import local_day
from coachhub.camps.enums import MemberState
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.feedback.enums import PracticeKind, ReviewState
from coachhub.feedback.models import Message, Practice, Review
from coachhub.progress.domain.participation import NOT_SENT
from coachhub.videos.models import Submission

# Common practice, no source: a week with a task in it, and some days of grace.
QUIET_DAYS = 10


@dataclass(frozen=True)
class Quiet:
    member_id: UUID
    name: str
    # The last day with a sign of life; None where there was none since joining or since the camp began.
    last: date | None
    # Days since then, or since both the camp had begun and the student had joined.
    days: int


def gone_quiet(camp: Camp, cohorts: Iterable[Cohort], *, now: datetime) -> list[Quiet]:
    """By name. Whoever waits for an answer is not quiet: it is the coach's turn. Five queries."""
    today = local_day(camp, now)
    if not camp.starts_on <= today <= camp.ends_on:
        return []
    places = list(
        Membership.objects.students()
        .filter(camp=camp, cohort__in=list(cohorts), state=MemberState.ACTIVE)
        .select_related("user")
    )
    students = [place.user_id for place in places]
    waiting, last = _waiting(camp, students), _last_days(camp, students)
    found = (
        _quiet(place, last.get(place.user_id), camp, today)
        for place in places
        if place.user_id not in waiting
    )
    return sorted(
        (one for one in found if one.days >= QUIET_DAYS), key=lambda one: (one.name.casefold(), one.member_id)
    )


def _quiet(place: Membership, last: date | None, camp: Camp, today: date) -> Quiet:
    joined = local_day(camp, place.created_at)
    since = max(filter(None, (camp.starts_on, joined, last)))
    return Quiet(place.public_id, place.user.name, last, (today - since).days)


def _waiting(camp: Camp, students: list[int]) -> set[int]:
    rows = Review.objects.filter(
        submission__camp=camp,
        submission__student__in=students,
        state__in=(ReviewState.COMING, ReviewState.WAITING, ReviewState.CLAIMED),
    )
    return set(rows.values_list("submission__student_id", flat=True))


def _last_days(camp: Camp, students: list[int]) -> dict[int, date]:
    last: dict[int, date] = {}
    for student, day in _signs_of_life(camp, students):
        last[student] = max(day, last.get(student, day))
    return last


def _signs_of_life(camp: Camp, students: list[int]) -> Iterator[tuple[int, date]]:
    sent = Submission.objects.filter(camp=camp, student__in=students).exclude(state__in=NOT_SENT)
    for student, at in sent.order_by().values_list("student_id").annotate(at=Max("sent_at")):
        if at is not None:
            yield student, local_day(camp, at)
    written = Message.objects.filter(thread__camp=camp, author__in=students)
    for student, at in written.order_by().values_list("author_id").annotate(at=Max("created_at")):
        yield student, local_day(camp, at)
    # Practice is looked at only where coaches may.
    practised = Practice.objects.filter(
        kind=PracticeKind.DONE,
        review__submission__camp=camp,
        review__submission__student__in=[*set(students) & set(allowing(Purpose.FEEDBACK))],
    )
    rows = practised.order_by().values_list("review__submission__student_id").annotate(day=Max("on_day"))
    yield from ((student, day) for student, day in rows if day is not None)
