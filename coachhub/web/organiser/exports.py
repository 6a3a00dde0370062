"""The organiser's tables as CSV."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.camps.models import Camp, Cohort
from coachhub.common.spreadsheet import to_csv
from coachhub.progress.domain.judged import answered, judged_submissions
from coachhub.progress.domain.participation import participation
from coachhub.progress.domain.turnaround import turnaround
from coachhub.web.organiser.access import camp_for
from coachhub.web.organiser.results import sign_label
from coachhub.web.who import person_of


def _download(name: str, heading: Sequence[str], rows: Iterable[Sequence[object]]) -> HttpResponse:
    response = HttpResponse(to_csv(heading, rows), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return response


def _open(request: HttpRequest, public_id: UUID) -> tuple[Camp, list[Cohort]]:
    camp = camp_for(request, public_id, "camps.export")
    return camp, list(Cohort.objects.visible_to(person_of(request)).filter(camp=camp))


def _there(camp: Camp, at: datetime | None) -> datetime | None:
    """In the camp's zone, with its offset."""
    return at.astimezone(camp.zone) if at else None


@login_required
@require_safe
def participation_csv(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp, cohorts = _open(request, public_id)
    heading = (
        "cohort",
        "name",
        "e-mail",
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
            row.email,
            row.state_words,
            _there(camp, row.joined_at),
            _there(camp, row.intake_at),
            row.sent,
            row.answered,
            row.refilm,
            _there(camp, row.last_sent_at),
        )
        for row in participation(camp, cohorts, now=timezone.now())
    )
    return _download("participation", heading, rows)


@login_required
@require_safe
def turnaround_csv(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp, cohorts = _open(request, public_id)
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
        for answer in turnaround(camp, cohorts, now=timezone.now()).answers
    )
    return _download("turnaround", heading, rows)


@login_required
@require_safe
def signs_csv(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp, cohorts = _open(request, public_id)
    names = {cohort.pk: cohort.name for cohort in cohorts}
    heading = ("cohort", "student", "range day", "camp week", "sign", "state")
    rows = (
        (names[one.cohort_id], one.student_name, one.day, one.week, sign_label(sign), state.replace("_", " "))
        for one in judged_submissions(camp, answered(camp, cohorts))
        for sign, state in one.signs.items()
    )
    return _download("signs", heading, rows)
