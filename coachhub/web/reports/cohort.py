"""A cohort's report as a file, with names or without."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.camps.domain.weeks import local_day
from coachhub.common.domain.sights import note_sight
from coachhub.progress import plots
from coachhub.progress.domain.report_cohort import CohortReport, SignRow, cohort_report
from coachhub.progress.domain.signs import COURSE_WORDS
from coachhub.web.organiser.results import sign_label
from coachhub.web.reports.doors import cohort_of
from coachhub.web.reports.paper import Busy, Shelf, on_paper, sent
from coachhub.web.reports.trouble import busy
from coachhub.web.who import person_of

MOST_PLOTS = 8


@dataclass(frozen=True)
class Course:
    label: str
    students: int


@dataclass(frozen=True)
class Sign:
    label: str
    row: SignRow
    courses: tuple[Course, ...]
    address: str
    alt: str


@require_safe
@login_required
def cohort(request: HttpRequest, public_id: UUID) -> HttpResponse:
    found, now = cohort_of(request, public_id), timezone.now()
    note_sight(found, by=person_of(request), now=now, scope=found.camp.public_id)
    report = cohort_report(found, with_names=request.GET.get("names") != "no", now=now)
    shelf, today = Shelf(), local_day(found.camp, now)
    try:
        pdf = on_paper("reports/cohort.html", cohort_page(report, shelf) | {"today": today}, shelf)
    except Busy:
        return busy()
    return sent(pdf, "cohort", found.camp.name, found.name, f"{today:%Y-%m-%d}")


def cohort_page(report: CohortReport, shelf: Shelf) -> dict[str, Any]:
    bins = report.turnaround.bins
    said = "; ".join(f"{plots.hours_label(each)}: {each.answers}" for each in bins)
    title = "Answers by hours on the promise clock"
    return {
        "report": report,
        "cohort": report.cohort,
        "camp": report.cohort.camp,
        "promise": {
            "address": shelf.put_plot(plots.bins_svg(bins, title=title, desc=said)),
            "alt": f"{title}. {said}",
        },
        "signs": [_sign(row, shelf, number < MOST_PLOTS) for number, row in enumerate(report.signs)],
    }


def _sign(row: SignRow, shelf: Shelf, is_drawn: bool) -> Sign:
    label = sign_label(row.prevalence.sign)
    shares = [f"week {week.week}: {week.confirmed} of {week.students}" for week in row.prevalence.weeks]
    return Sign(
        label=label,
        row=row,
        courses=tuple(Course(COURSE_WORDS[course], count) for course, count in row.courses.items()),
        address=shelf.put_plot(plots.weeks_svg(row.prevalence, title=label)) if is_drawn else "",
        alt=f"{label}. {'; '.join(shares)}",
    )
