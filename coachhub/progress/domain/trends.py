"""One measured number of one student over the range days of a camp. Compared only like with like: the same club class,
the same view and the same frame rate; nothing is called a change that the noise could make."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any, NamedTuple

from django.db.models import QuerySet

from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.feedback.enums import ReviewState
from coachhub.progress.domain.noise import FEWEST_SWINGS, Difference, Mean, difference, mean_of
from coachhub.swings.models import Readout
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission

COMMON_RATES = (24, 25, 30, 50, 60, 100, 120, 200, 240)


@dataclass(frozen=True)
class Point:
    day: date
    mean: Mean
    # The day's swings, in the order in which they were filmed.
    swings: tuple[float, ...] = ()

    @property
    def value(self) -> float:
        return self.mean.value

    @property
    def n(self) -> int:
        return self.mean.n

    @property
    def se(self) -> float:
        return self.mean.se

    @property
    def half_width(self) -> float:
        return self.mean.half_width


@dataclass(frozen=True)
class Limit:
    """Between ``first`` minus and plus ``half_width`` a mean of that day is the first day's as far as can be told."""

    day: date
    first: float
    half_width: float


@dataclass(frozen=True)
class Trend:
    metric: str
    unit: str
    view: str
    club_class: str
    rate: int | None = None
    points: list[Point] = field(default_factory=list)
    # Swings that could not be compared because they were filmed at another frame rate.
    left_out: int = 0

    @property
    def key(self) -> str:
        """What it is called in addresses."""
        return f"{self.metric}.{self.view}.{self.club_class}"

    @property
    def full(self) -> list[Point]:
        """Days with enough swings to be compared."""
        return [point for point in self.points if point.n >= FEWEST_SWINGS]

    @property
    def compared(self) -> tuple[Point, Point] | None:
        """The first and the last day with enough swings, if these are two."""
        full = self.full
        return (full[0], full[-1]) if len(full) > 1 else None

    @property
    def limits(self) -> list[Limit]:
        """How far each later full day must lie from the first one to count as a change."""
        full = self.full
        return [
            Limit(later.day, full[0].value, difference(full[0].mean, later.mean).half_width)
            for later in full[1:]
        ]

    @property
    def detectable(self) -> float | None:
        """The smallest change that can be told between the two days that are compared; before there are two, between
        the only full day and another one just like it."""
        if self.change is not None:
            return self.change.half_width
        return difference(self.full[0].mean, self.full[0].mean).half_width if self.full else None

    @property
    def change(self) -> Difference | None:
        return difference(self.compared[0].mean, self.compared[1].mean) if self.compared else None

    @property
    def verdict(self) -> str:
        """``none``, ``one_swing``, ``one_day``, ``too_few``, ``no_change`` or ``changed``."""
        if not self.points:
            return "none"
        if self.change is not None:
            return "changed" if self.change.is_change else "no_change"
        if all(point.n == 1 for point in self.points):
            return "one_swing"
        return "one_day" if len(self.points) == 1 else "too_few"


class _Value(NamedTuple):
    day: date
    rate: int
    value: float
    se: float
    unit: str


class _Row(NamedTuple):
    student_id: int
    day: date
    club_class: str
    said_view: str
    clip_fps: float | None
    seen_view: Any
    seen_fps: Any
    metrics: Any


_Key = tuple[str, str, str]


def metric_trend(
    student: User, camp: Camp, metric: str, *, view: str, club_class: str, only_published: bool = True
) -> Trend:
    """``only_published``: only swings whose answer is out, which is all that a student may see."""
    found = metric_trends(student, camp, [metric], only_published=only_published)
    wanted = (metric, view, club_class)
    for trend in found:
        if (trend.metric, trend.view, trend.club_class) == wanted:
            return trend
    return Trend(metric, "", view, club_class)


def metric_trends(
    student: User, camp: Camp, metrics: Iterable[str] | None = None, *, only_published: bool = True
) -> list[Trend]:
    """Each wanted metric (None: all) in each view and club class that has it, most swings first. One query."""
    sent = Submission.objects.filter(student=student, camp=camp)
    if only_published:
        sent = sent.filter(review__state=ReviewState.PUBLISHED)
    return trends_by_student(sent, metrics).get(student.pk, [])


def trends_by_student(
    submissions: QuerySet[Submission], metrics: Iterable[str] | None = None
) -> dict[int, list[Trend]]:
    """The same for everybody who sent one of these submissions, still in one query."""
    wanted = None if metrics is None else frozenset(metrics)
    values: dict[int, dict[_Key, list[_Value]]] = defaultdict(lambda: defaultdict(list))
    for row in _readouts(submissions):
        for key, value in _values_of(row, wanted):
            values[row.student_id][key].append(value)
    return {
        student: _sorted(_trend(key, found) for key, found in kinds.items())
        for student, kinds in values.items()
    }


def _sorted(trends: Iterable[Trend]) -> list[Trend]:
    return sorted(
        trends, key=lambda trend: (-sum(point.n for point in trend.points), trend.metric, trend.view)
    )


def _readouts(submissions: QuerySet[Submission]) -> Iterator[_Row]:
    hidden = (SubmissionState.OPEN, SubmissionState.WITHDRAWN)
    rows = Readout.objects.of_strikes().filter(
        is_current=True, swing__clip__submission__in=submissions.exclude(state__in=hidden).order_by()
    )
    columns = (
        "swing__clip__submission__student",
        "swing__clip__submission__range_day",
        "swing__clip__submission__club_class",
        "swing__clip__view",
        "swing__clip__fps",
        "data__view",
        "data__fps",
        "data__metrics",
    )
    return (_Row(*row) for row in rows.order_by(columns[1], "pk").values_list(*columns))


def _values_of(row: _Row, wanted: frozenset[str] | None) -> Iterator[tuple[_Key, _Value]]:
    rate = frame_rate(row.seen_fps or row.clip_fps or 0)
    view = row.seen_view if isinstance(row.seen_view, str) and row.seen_view else row.said_view
    for name, entry in (row.metrics or {}).items():
        if wanted is not None and name not in wanted:
            continue
        value, se = _number(entry.get("value")), _number(entry.get("se"))
        if value is not None and se is not None and se >= 0:
            unit = str(entry.get("unit") or "")
            yield (name, view, row.club_class), _Value(row.day, rate, value, se, unit)


def _number(value: Any) -> float | None:
    is_number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    return float(value) if is_number else None


def frame_rate(fps: float) -> int:
    """The usual rate that ``fps`` is meant to be: a phone's "60" is 59.94 or 60.2."""
    nearest = min(COMMON_RATES, key=lambda rate: abs(rate - fps))
    return nearest if abs(nearest - fps) <= 0.06 * nearest else round(fps)


def _trend(key: _Key, values: list[_Value]) -> Trend:
    """Of several frame rates the one with the most swings is kept, of equals the later filmed."""
    counts = Counter(value.rate for value in values)
    newest = {value.rate: value.day for value in values}
    rate = max(counts, key=lambda each: (counts[each], newest[each]))
    kept = [value for value in values if value.rate == rate]
    days: dict[date, list[_Value]] = defaultdict(list)
    for value in kept:
        days[value.day].append(value)
    points = [
        Point(
            day,
            mean_of([each.value for each in found], [each.se for each in found]),
            tuple(each.value for each in found),
        )
        for day, found in sorted(days.items())
    ]
    metric, view, club_class = key
    return Trend(metric, kept[-1].unit, view, club_class, rate, points, len(values) - len(kept))
