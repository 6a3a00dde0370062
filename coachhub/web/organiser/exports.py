"""The organiser's tables as CSV and XLSX."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.accounts.models import Minor
from coachhub.camps.models import Camp, Cohort
from coachhub.common.spreadsheet import CONTENT_TYPES, WRITERS
from coachhub.progress.domain.judged import answered, judged_submissions
from coachhub.progress.domain.participation import participation
from coachhub.progress.domain.turnaround import turnaround
from coachhub.web.organiser.access import camp_for
from coachhub.web.organiser.results import sign_label
from coachhub.web.who import person_of


@dataclass(frozen=True)
class Table:
    name: str
    heading: Sequence[str]
    rows: Iterable[Sequence[object]]


Maker = Callable[[Camp, list[Cohort], datetime], Table]


def download(maker: Maker) -> Callable[..., HttpResponse]:
    """The page that sends this table, in the kind of file that the address names."""

    @login_required
    @require_safe
    @wraps(maker)
    def inner(request: HttpRequest, public_id: UUID, kind: str) -> HttpResponse:
        camp = camp_for(request, public_id, "camps.export")
        cohorts = list(Cohort.objects.visible_to(person_of(request)).filter(camp=camp))
        table = maker(camp, cohorts, timezone.now())
        response = HttpResponse(WRITERS[kind](table.heading, table.rows), content_type=CONTENT_TYPES[kind])
        response["Content-Disposition"] = f'attachment; filename="{table.name}.{kind}"'
        return response

    return inner


def _there(camp: Camp, at: datetime | None) -> datetime | None:
    """In the camp's zone, with its offset."""
    return at.astimezone(camp.zone) if at else None


@download
def participation_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    """A minor is reached through the guardians, so a minor's own address is in no file."""
    found = participation(camp, cohorts, now=now)
    minors = set(
        Minor.objects.filter(person_id__in=[row.student_id for row in found], grown_at=None).values_list(
            "person_id", flat=True
        )
    )
    heading = (
        "cohort",
        "name",
        "e-mail",
        "write to",
        "state",
        "joined",
        "intake",
        "sent",
        "answered",
        "to film again",
        "last sent",
    )
    rows = (
        (
            row.cohort,
            row.name,
            "" if row.student_id in minors else row.email,
            "the guardian" if row.student_id in minors else "the student",
            row.state_words,
            _there(camp, row.joined_at),
            _there(camp, row.intake_at),
            row.sent,
            row.answered,
            row.refilm,
            _there(camp, row.last_sent_at),
        )
        for row in found
    )
    return Table("participation", heading, rows)


@download
def turnaround_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    heading = (
        "cohort",
        "student",
        "coach",
        "usable",
        "promised",
        "published",
        "opened",
        "hours on the clock",
        "late",
    )
    rows = (
        (
            answer.cohort,
            answer.student_name,
            answer.coach,
            _there(camp, answer.usable_at),
            _there(camp, answer.due_at),
            _there(camp, answer.published_at),
            _there(camp, answer.opened_at),
            "" if answer.hours is None else round(answer.hours, 1),
            "yes" if answer.is_late else "no",
        )
        for answer in turnaround(camp, cohorts, now=now).answers
    )
    return Table("turnaround", heading, rows)


@download
def signs_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    names = {cohort.pk: cohort.name for cohort in cohorts}
    heading = ("cohort", "student", "range day", "camp week", "sign", "state")
    rows = (
        (names[one.cohort_id], one.student_name, one.day, one.week, sign_label(sign), state.replace("_", " "))
        for one in judged_submissions(camp, answered(camp, cohorts))
        for sign, state in one.signs.items()
    )
    return Table("signs", heading, rows)


EXPORTS = {"participation": participation_table, "turnaround": turnaround_table, "signs": signs_table}
