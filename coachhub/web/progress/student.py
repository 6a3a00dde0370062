"""One student's progress: signs, numbers and the coaching on one time axis, first and latest side by side."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import SafeString
from django.views.decorators.http import require_safe

from coachhub.common.domain.sights import note_sight
from coachhub.progress import plots, words
from coachhub.progress.domain.coaching import CoachedDay, coached_days
from coachhub.progress.domain.sign_marks import MARK_WORDS, Mark, SignMarks
from coachhub.progress.domain.trends import Trend
from coachhub.web.progress.labels import kind_words, sign_label
from coachhub.web.progress.pairs import pair_cards
from coachhub.web.progress.reading import Reading, numbers_of, reading_of
from coachhub.web.reports.doors import student_place
from coachhub.web.who import person_of
from coachhub.web.words import METRIC_GROUPS, metric_definition, metric_group, metric_label

SIGNS_TITLE = "Signs over the range days"
BEHIND_SIGNS = "behind"


@dataclass(frozen=True)
class Figure:
    title: str
    definition: str
    plot: SafeString
    verdict: str
    detectable: str
    left_out: str
    trend: Trend


@dataclass(frozen=True)
class Choice:
    value: str
    words: str


@dataclass(frozen=True)
class MarkCell:
    day: date
    label: str


@require_safe
@login_required
def student(request: HttpRequest, public_id: UUID) -> HttpResponse:
    place, reader, now = student_place(request, public_id), person_of(request), timezone.now()
    reading = reading_of(place, reader)
    if not reading.is_own:
        note_sight(place, by=reader, now=now, scope=place.camp.public_id)
    context = progress_context(reading, request.GET, now=now) | {"place": place, "reading": reading}
    return render(request, "progress/student.html", context)


def progress_context(reading: Reading, asked: Any, *, now: datetime) -> dict[str, Any]:
    """``asked``: what the address chooses: ``filmed`` (club and view); for staff ``numbers`` (a part of the swing)."""
    place = reading.place
    marks = reading.marks()
    coached = coached_days(place.user, place.camp, now=now)
    behind = numbers_of(marks)
    group = asked.get("numbers", "") if reading.is_staff else ""
    trends = reading.trends(None if group in METRIC_GROUPS else behind)
    if group in METRIC_GROUPS:
        trends = [trend for trend in trends if metric_group(trend.metric) == group]
    axis = _axis(marks, trends, coached)
    return {
        "coached": coached,
        "marks": _marks(marks, axis, coached) if axis else None,
        "pairs": pair_cards(reading, behind),
        "groups": [Choice(name, name) for name in METRIC_GROUPS] if reading.is_staff else [],
        "group": group if group in METRIC_GROUPS else BEHIND_SIGNS,
        **_numbers(trends, asked.get("filmed", ""), axis, coached),
    }


def _axis(marks: SignMarks, trends: Iterable[Trend], coached: Iterable[CoachedDay]) -> plots.Days | None:
    days = [*marks.days, *(point.day for trend in trends for point in trend.points)]
    return plots.days_of([*days, *(one.day for one in coached)]) if days else None


def _marks(marks: SignMarks, axis: plots.Days, coached: list[CoachedDay]) -> dict[str, Any] | None:
    if not marks.rows:
        return None
    used = {mark for row in marks.rows for mark in row.marks if mark is not None}
    return {
        "plot": plots.signs_svg(marks, title=SIGNS_TITLE, label=sign_label, axis=axis, coached=coached),
        "keys": [(plots.mark_key(mark), MARK_WORDS[mark]) for mark in Mark if mark in used],
        "days": marks.days,
        "rows": [
            (
                sign_label(row.sign),
                [_cell(day, mark) for day, mark in zip(marks.days, row.marks, strict=True)],
            )
            for row in marks.rows
        ],
    }


def _cell(day: date, mark: Mark | None) -> MarkCell:
    return MarkCell(day, MARK_WORDS[mark] if mark is not None else "–")


def _numbers(
    trends: list[Trend], wanted: str, axis: plots.Days | None, coached: list[CoachedDay]
) -> dict[str, Any]:
    """Of one club and view at a time: what can be compared stands together."""
    kinds = list(dict.fromkeys(_kind(trend) for trend in trends))
    chosen = wanted if wanted in kinds else (kinds[0] if kinds else "")
    shown = [trend for trend in trends if _kind(trend) == chosen]
    shown.sort(key=lambda trend: (len(trend.points) < 2, metric_label(trend.metric)))
    choices = {_kind(trend): kind_words(trend.club_class, trend.view) for trend in trends}
    return {
        "kinds": [Choice(kind, choices[kind]) for kind in kinds],
        "kind": chosen,
        "kind_label": choices.get(chosen, ""),
        "figures": [_figure(trend, axis, coached) for trend in shown] if axis else [],
    }


def _kind(trend: Trend) -> str:
    return f"{trend.club_class}.{trend.view}"


def _figure(trend: Trend, axis: plots.Days, coached: list[CoachedDay]) -> Figure:
    title = metric_label(trend.metric).capitalize()
    return Figure(
        title=title,
        definition=metric_definition(trend.metric),
        plot=plots.trend_svg(trend, title=title, axis=axis, coached=coached),
        verdict=words.sentence(trend),
        detectable=words.detectable(trend),
        left_out=words.left_out(trend),
        trend=trend,
    )
