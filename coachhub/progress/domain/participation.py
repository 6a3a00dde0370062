"""Who takes part: joined, answered the intake, sent swings, and when last. One query."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Count, DateTimeField, IntegerField, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from coachhub.accounts.models import Intake
from coachhub.camps.domain.weeks import camp_week, local_day
from coachhub.camps.enums import MemberState
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.feedback.enums import ReviewState
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission

COLUMNS = (
    "public_id",
    "user_id",
    "user__name",
    "user__email",
    "cohort__name",
    "state",
    "created_at",
    "intake_at",
    "sent",
    "answered",
    "refilm",
    "last_sent_at",
)
NOT_SENT = (SubmissionState.OPEN, SubmissionState.WITHDRAWN)


@dataclass(frozen=True)
class Participation:
    member_id: UUID
    student_id: int
    name: str
    email: str
    cohort: str
    state: str
    joined_at: datetime
    intake_at: datetime | None
    sent: int
    answered: int
    refilm: int
    last_sent_at: datetime | None
    last_week: int | None
    is_due: bool

    @property
    def state_words(self) -> str:
        return str(MemberState(self.state).label)


@dataclass(frozen=True)
class Turnout:
    students: int
    with_intake: int
    ever_sent: int
    # Taking part, the camp is on, and nothing came this camp week.
    due: int


def participation(
    camp: Camp, cohorts: Iterable[Cohort] | QuerySet[Cohort], *, now: datetime
) -> list[Participation]:
    """Students of the cohorts by name, who has left at the end."""
    members = Membership.objects.students().filter(camp=camp, cohort__in=cohorts).annotate(**_columns())
    this_week = _running_week(camp, now)
    rows = [_row(camp, member, this_week) for member in members.values(*COLUMNS)]
    return sorted(
        rows, key=lambda row: (row.state == MemberState.LEFT, row.cohort, row.name.casefold(), row.email)
    )


def _running_week(camp: Camp, now: datetime) -> int | None:
    """The week of ``now``, if the camp is on."""
    return camp_week(camp, now) if camp.starts_on <= local_day(camp, now) <= camp.ends_on else None


def _columns() -> dict[str, Subquery | Coalesce]:
    own = Submission.objects.filter(student=OuterRef("user"), camp=OuterRef("camp")).exclude(
        state__in=NOT_SENT
    )
    intake = Intake.objects.filter(user=OuterRef("user")).order_by("-created_at", "-pk")

    def count(rows: QuerySet[Submission]) -> Coalesce:
        counted = rows.order_by().values("student").annotate(n=Count("pk")).values("n")
        return Coalesce(Subquery(counted, output_field=IntegerField()), 0)

    return {
        "intake_at": Subquery(intake.values("created_at")[:1], output_field=DateTimeField()),
        "sent": count(own),
        "answered": count(own.filter(review__state=ReviewState.PUBLISHED)),
        "refilm": count(own.filter(state=SubmissionState.REFILM)),
        "last_sent_at": Subquery(
            own.filter(~Q(sent_at=None)).order_by("-sent_at").values("sent_at")[:1],
            output_field=DateTimeField(),
        ),
    }


def _row(camp: Camp, member: dict[str, Any], this_week: int | None) -> Participation:
    sent_at = member["last_sent_at"]
    last_week = camp_week(camp, sent_at) if sent_at else None
    is_here = member["state"] == MemberState.ACTIVE
    return Participation(
        member_id=member["public_id"],
        student_id=member["user_id"],
        name=member["user__name"],
        email=member["user__email"],
        cohort=member["cohort__name"],
        state=member["state"],
        joined_at=member["created_at"],
        intake_at=member["intake_at"],
        sent=member["sent"],
        answered=member["answered"],
        refilm=member["refilm"],
        last_sent_at=sent_at,
        last_week=last_week,
        is_due=is_here and this_week is not None and last_week != this_week,
    )


def turnout(rows: Iterable[Participation]) -> Turnout:
    """Counts over who has not left."""
    here = [row for row in rows if row.state != MemberState.LEFT]
    return Turnout(
        students=len(here),
        with_intake=sum(row.intake_at is not None for row in here),
        ever_sent=sum(row.sent > 0 for row in here),
        due=sum(row.is_due for row in here),
    )
