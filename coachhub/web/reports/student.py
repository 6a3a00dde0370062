"""A student's report as a file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.core.files.storage import default_storage
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from analysis.readout import NOT_VISIBLE
from coachhub.camps.domain.weeks import local_day
from coachhub.common.domain.sights import note_sight
from coachhub.common.wording import say
from coachhub.feedback.domain.adherence import Assignment
from coachhub.feedback.library.figures import FIGURES, drawing
from coachhub.feedback.models import Drill, Review
from coachhub.progress import words
from coachhub.progress.domain.course import NUMBER, course_of
from coachhub.progress.domain.report import Session, StudentReport, student_report
from coachhub.progress.domain.trends import Trend
from coachhub.progress.plots import describe, trend_svg
from coachhub.swings.enums import SignKey
from coachhub.swings.models import Readout
from coachhub.videos.enums import View
from coachhub.web.course import in_words
from coachhub.web.reports.doors import student_place
from coachhub.web.reports.paper import Busy, Shelf, on_paper, sent
from coachhub.web.reports.trouble import busy
from coachhub.web.stills import event_sheet_of, still_key
from coachhub.web.student.labels import miss_words, root_words
from coachhub.web.student.progress import trend_words
from coachhub.web.who import person_of
from coachhub.web.words import plain


@dataclass(frozen=True)
class Picture:
    address: str
    alt: str
    label: str = ""
    seconds: str = ""


@dataclass(frozen=True)
class Sheet:
    title: str
    pictures: tuple[Picture, ...]
    missing: tuple[str, ...]


@dataclass(frozen=True)
class Plot:
    title: str
    address: str
    alt: str
    verdict: str
    left_out: str
    trend: Trend


@require_safe
@login_required
def student(request: HttpRequest, public_id: UUID) -> HttpResponse:
    place, reader, now = student_place(request, public_id), person_of(request), timezone.now()
    if reader.pk != place.user_id:
        note_sight(place, by=reader, now=now, scope=place.camp.public_id)
    report = student_report(place, reader, now=now)
    shelf = Shelf()
    try:
        pdf = on_paper(
            "reports/student.html", student_page(report, shelf, today=local_day(place.camp, now)), shelf
        )
    except Busy:
        return busy()
    return sent(
        pdf, "report", place.camp.name, f"{local_day(place.camp, now):%Y-%m-%d}", place.public_id.hex[:6]
    )


def student_page(report: StudentReport, shelf: Shelf, *, today: Any) -> dict[str, Any]:
    """What the template shows; pictures are put on the shelf on the way."""
    without = () if report.shows_numbers else (NUMBER,)
    course = in_words(course_of(report.student, report.camp), without=without) if report.finding else None
    finding = report.finding
    return {
        "report": report,
        "today": today,
        "sessions": [_session(one) for one in report.sessions],
        "root_kind": root_words(finding.root_kind) if finding else "",
        "strands": course.strands if course else (),
        "sheets": [sheet for review, readout in report.shown if (sheet := _sheet(review, readout, shelf))],
        "plots": [_plot(trend, shelf) for trend in report.trends],
        "drills": [(one, _figure(one.given, shelf)) for one in report.plan.drills],
        "not_visible": ", ".join(say(one) for one in NOT_VISIBLE),
    }


def _session(one: Session) -> dict[str, Any]:
    labels = {str(value): str(label) for value, label in SignKey.choices}
    return {
        "submission": one.submission,
        "review": one.review,
        "miss": miss_words(one.submission),
        "signs": [labels.get(sign, plain(sign)) for sign in one.signs],
    }


def _sheet(review: Review, readout: Readout, shelf: Shelf) -> Sheet | None:
    view = View(readout.swing.clip.view).label
    found = event_sheet_of(readout, str(view))
    if found is None:
        return None
    pictures, missing = [], []
    for still in found.stills:
        address = shelf.put("image/jpeg", _stored(still_key(readout, still.event))) if still.kind else ""
        if address:
            # No line may break between a number and its unit.
            seconds = f"{(still.t_us or 0) / 1e6:.2f}\N{NO-BREAK SPACE}s"
            pictures.append(Picture(address, still.alt, still.label, seconds))
        else:
            missing.append(still.label)
    day = review.submission.range_day
    title = f"{day.day} {day:%B}: {review.submission.get_club_class_display()}, {view}"
    return Sheet(title, tuple(pictures), tuple(missing)) if pictures else None


def _stored(key: str) -> bytes:
    """Straight from storage, never by an address."""
    if not key or not default_storage.exists(key):
        return b""
    with default_storage.open(key) as file:
        return bytes(file.read())


def _plot(trend: Trend, shelf: Shelf) -> Plot:
    title = trend_words(trend)
    address = shelf.put_plot(trend_svg(trend, title=title))
    return Plot(title, address, describe(trend), words.sentence(trend), words.left_out(trend), trend)


def _figure(given: Assignment, shelf: Shelf) -> Picture | None:
    drill: Drill | None = given.review.drill
    key = (drill.figure or drill.key) if drill else ""
    if drill is None or key not in FIGURES:
        return None
    return Picture(shelf.put("image/svg+xml", drawing(key).encode()), f"Drawing: {drill.how}")
