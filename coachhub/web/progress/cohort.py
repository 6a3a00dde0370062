"""A cohort's progress, for its coaches and for who organises the camp."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import SafeString
from django.views.decorators.http import require_safe

from coachhub.common.domain.sights import note_sight
from coachhub.common.rules import can
from coachhub.progress import plots, words
from coachhub.progress.domain.cohort_progress import CohortProgress, Student, cohort_progress
from coachhub.progress.domain.held import HELD_DAYS
from coachhub.progress.domain.noise import FEWEST_SWINGS
from coachhub.progress.domain.quiet import QUIET_DAYS
from coachhub.progress.domain.report_cohort import FEW, SignRow
from coachhub.progress.domain.signs import COURSE_WORDS
from coachhub.progress.domain.trends import Trend
from coachhub.progress.domain.turnaround import Turnaround
from coachhub.web.progress.labels import kind_words, sign_label
from coachhub.web.reports.doors import cohort_of
from coachhub.web.who import person_of
from coachhub.web.words import metric_label


@dataclass(frozen=True)
class Course:
    label: str
    students: int


@dataclass(frozen=True)
class SignCard:
    label: str
    row: SignRow
    plot: SafeString
    courses: tuple[Course, ...]


@dataclass(frozen=True)
class Choice:
    value: str
    words: str


@dataclass(frozen=True)
class Small:
    """One student's number; without a plot where it was not measured."""

    student: Student
    plot: SafeString | None
    first: str
    latest: str
    difference: str
    detectable: str
    verdict: str


@require_safe
@login_required
def cohort(request: HttpRequest, public_id: UUID) -> HttpResponse:
    found, reader, now = cohort_of(request, public_id), person_of(request), timezone.now()
    note_sight(found, by=reader, now=now, scope=found.camp.public_id)
    progress = cohort_progress(found, now=now)
    organises = can(reader, "camps.see_participation", found)
    context = {
        "camp": found.camp,
        "cohort": found,
        "progress": progress,
        "signs": [_sign(row) for row in progress.signs],
        "held_days": HELD_DAYS,
        "fewest": FEWEST_SWINGS,
        "quiet_days": QUIET_DAYS,
        "few": FEW,
        "organises": organises,
        # How fast somebody answers is the organiser's and the coach's own to read, no colleague's.
        "loads": [(load, organises or load.coach_id == reader.pk) for load in progress.loads],
        **_promise(progress.turnaround),
        **_small(progress, request.GET.get("number", "")),
    }
    return render(request, "progress/cohort.html", context)


def _sign(row: SignRow) -> SignCard:
    label = sign_label(row.prevalence.sign)
    courses = tuple(Course(COURSE_WORDS[course], count) for course, count in row.courses.items())
    return SignCard(label, row, plots.weeks_svg(row.prevalence, title=label.capitalize()), courses)


def _promise(found: Turnaround) -> dict[str, Any]:
    bins = found.bins
    said = "; ".join(f"{plots.hours_label(each)}: {each.answers}" for each in bins)
    title = "Answers by hours on the promise clock"
    return {
        "promise_plot": plots.bins_svg(bins, title=title, desc=said),
        "bins": [(plots.hours_label(each), each) for each in bins],
    }


def _small(progress: CohortProgress, wanted: str) -> dict[str, Any]:
    """One number of everybody on equal scales, by name."""
    kinds = {".".join(kind): kind for kind in progress.kinds}
    chosen = wanted if wanted in kinds else next(iter(kinds), "")
    if not chosen:
        return {"numbers": [], "number": "", "small": []}
    own = [(student, _of_kind(student, kinds[chosen])) for student in progress.students]
    axis = plots.days_of(point.day for _, trend in own if trend for point in trend.points)
    assert axis is not None  # A kind comes from a trend, and a trend has a day.
    ticks = plots.value_ticks((trend for _, trend in own if trend), most=3)
    unit = next((words.UNITS.get(trend.unit, trend.unit) for _, trend in own if trend), "")
    numbers = [Choice(key, _number_words(*kind)) for key, kind in kinds.items()]
    return {
        "numbers": sorted(numbers, key=lambda each: each.words),
        "number": chosen,
        "number_title": _number_words(*kinds[chosen]),
        "small": [_one(student, trend, axis, ticks, unit) for student, trend in own],
        "unmeasured": [student for student, trend in own if trend is None],
    }


def _of_kind(student: Student, kind: tuple[str, str, str]) -> Trend | None:
    return next(
        (trend for trend in student.trends if (trend.metric, trend.view, trend.club_class) == kind), None
    )


def _number_words(metric: str, view: str, club_class: str) -> str:
    return f"{metric_label(metric).capitalize()}: {kind_words(club_class, view)}"


def _one(student: Student, trend: Trend | None, axis: plots.Days, ticks: list[float], unit: str) -> Small:
    if trend is None or not trend.points:
        return Small(student, None, "–", "–", "–", "–", words.AS_FEW["none"])
    first, latest = trend.compared or (trend.points[0], trend.points[-1])
    change = trend.change
    return Small(
        student=student,
        plot=plots.small_svg(trend, title=student.name, axis=axis, ticks=ticks, unit=unit),
        first=words.with_width(first.value, first.half_width, trend.unit),
        latest="–" if latest is first else words.with_width(latest.value, latest.half_width, trend.unit),
        difference=words.signed(change.value, change.half_width, trend.unit) if change else "–",
        detectable=words.amount(trend.detectable, trend.unit) if change and trend.detectable else "–",
        verdict=words.sentence(trend),
    )
