"""One number over the range days: its swings, day means, their noise, and what would count as a change."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.utils.html import format_html
from django.utils.safestring import SafeString

from coachhub.common.wording import say
from coachhub.progress import words
from coachhub.progress.domain.coaching import CoachedDay
from coachhub.progress.domain.noise import FEWEST_SWINGS
from coachhub.progress.domain.trends import Limit, Point, Trend
from coachhub.progress.plots.svg import (
    BOTTOM,
    HEIGHT,
    TOP,
    WIDTH,
    Days,
    Scale,
    circle,
    coached_lane,
    day_labels,
    days_of,
    lane_height,
    line,
    nice_ticks,
    svg,
    text,
    value_axis,
)


def trend_svg(
    trend: Trend, *, title: str, axis: Days | None = None, coached: Sequence[CoachedDay] = ()
) -> SafeString:
    """Small dots are swings, points the day means with their 95 % intervals as a band; hollow points stand for fewer
    than three swings. Between the dashed lines a later day is no change that can be told from the first full one."""
    axis = axis or days_of(point.day for point in trend.points)
    if axis is None:
        empty = [text(WIDTH / 2, HEIGHT / 2, say("not measured yet"))]
        return svg(empty, title=title, desc="", width=WIDTH, height=HEIGHT)
    lane = lane_height(coached, axis)
    height = HEIGHT + lane
    ticks = value_ticks([trend])
    y = Scale(ticks[0], ticks[-1], height - BOTTOM, TOP + lane)
    days = [point.day for point in trend.points]
    parts = [
        *value_axis(ticks, y, words.UNITS.get(trend.unit, trend.unit)),
        *coached_lane(coached, axis, 2, height - BOTTOM),
        *marks_of(trend, axis, y),
        *(day_labels(days, axis, height - 14) if days else ()),
    ]
    return svg(parts, title=title, desc=describe(trend), width=WIDTH, height=height)


def marks_of(trend: Trend, axis: Days, y: Scale, *, swings: bool = True) -> list[SafeString]:
    """What is drawn of the numbers themselves."""
    points = trend.points
    return [
        _band(points, axis, y),
        *_limits(trend.limits, trend.full, axis, y),
        *(_swings(points, axis, y) if swings else ()),
        *_intervals(points, axis, y),
        _path(points, axis, y),
        *_points(points, axis, y),
    ]


def value_ticks(trends: Iterable[Trend], *, most: int = 5) -> list[float]:
    """Round numbers that hold everything drawn of these trends."""
    edges: list[float] = []
    for trend in trends:
        edges += [each.value + side * each.half_width for each in trend.points for side in (-1, 1)]
        edges += [value for each in trend.points for value in each.swings]
        edges += [each.first + side * each.half_width for each in trend.limits for side in (-1, 1)]
    if not edges:
        return [0.0, 1.0]
    low, high = min(edges), max(edges)
    return nice_ticks(low, high, most=most) if low < high else [low - 1, low + 1]


def describe(trend: Trend) -> str:
    means = "; ".join(
        f"{words.day(each)}: {words.with_width(each.value, each.half_width, trend.unit)} from {each.n}"
        for each in trend.points
    )
    said = (say(words.sentence(trend)), say(words.detectable(trend)))
    return " ".join((f"{means}.", *filter(None, said)))


def _band(points: Sequence[Point], axis: Days, y: Scale) -> SafeString:
    if len(points) < 2:
        return SafeString("")
    upper = [(axis.x(each.day), y(each.value + each.half_width)) for each in points]
    lower = [(axis.x(each.day), y(each.value - each.half_width)) for each in reversed(points)]
    return format_html('<polygon class="band" points="{}"/>', " ".join(f"{a},{b}" for a, b in upper + lower))


def _limits(limits: Sequence[Limit], full: Sequence[Point], axis: Days, y: Scale) -> Iterable[SafeString]:
    for side in (-1, 1) if limits else ():
        first = limits[0]
        path = [(axis.x(full[0].day), y(first.first + side * first.half_width))]
        path += [(axis.x(each.day), y(each.first + side * each.half_width)) for each in limits]
        yield format_html(
            '<polyline class="limit" points="{}"/>', " ".join(f"{left},{top}" for left, top in path)
        )


def _swings(points: Sequence[Point], axis: Days, y: Scale) -> Iterable[SafeString]:
    """Beside each other around their day, in the order in which they were filmed."""
    for point in points:
        for number, value in enumerate(point.swings):
            aside = (number - (len(point.swings) - 1) / 2) * min(7.0, 28 / len(point.swings))
            yield circle("swing", round(axis.x(point.day) + aside, 1), y(value), 2.2)


def _intervals(points: Sequence[Point], axis: Days, y: Scale) -> Iterable[SafeString]:
    for each in points:
        at = axis.x(each.day)
        yield line("whisker", at, y(each.value - each.half_width), at, y(each.value + each.half_width))


def _path(points: Sequence[Point], axis: Days, y: Scale) -> SafeString:
    at = " ".join(f"{axis.x(each.day)},{y(each.value)}" for each in points)
    return format_html('<polyline class="trend" points="{}"/>', at)


def _points(points: Sequence[Point], axis: Days, y: Scale) -> Iterable[SafeString]:
    for each in points:
        kind = "point" if each.n >= FEWEST_SWINGS else "point few"
        yield circle(kind, axis.x(each.day), y(each.value), 5)
