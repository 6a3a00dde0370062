"""Small plots as SVG, made on the server: no script, no inline style, a title and a description for who can't see them.
The table of the same numbers belongs behind each plot."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from zlib import crc32

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from coachhub.progress import words
from coachhub.progress.domain.noise import FEWEST_SWINGS
from coachhub.progress.domain.signs import Prevalence
from coachhub.progress.domain.trends import Point, Trend
from coachhub.progress.domain.turnaround import Bin

WIDTH, HEIGHT = 360.0, 210.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 12.0, 14.0, 34.0


@dataclass(frozen=True)
class Scale:
    """Maps values of ``low``..``high`` to pixels of ``start``..``end``."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        span = self.high - self.low
        share = (value - self.low) / span if span else 0.5
        return round(self.start + share * (self.end - self.start), 1)


def nice_ticks(low: float, high: float, *, most: int = 5) -> list[float]:
    """Round numbers covering ``low``..``high``: steps of 1, 2 or 5 times a power of ten, at most ``most`` steps."""
    if not (math.isfinite(low) and math.isfinite(high) and low < high):
        raise ValueError(f"low must be finite and less than high, not {low!r} and {high!r}")
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(size * power for size in (1, 2, 5, 10) if size * power >= rough * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [number * step for number in range(first, last + 1)]


def _svg(parts: Iterable[SafeString], *, title: str, desc: str, width: float, height: float) -> SafeString:
    uid = f"plot-{crc32(f'{title}/{desc}'.encode()):08x}"
    return format_html(
        '<svg class="plot" viewBox="0 0 {w} {h}" role="img" aria-labelledby="{uid}-t {uid}-d">'
        '<title id="{uid}-t">{title}</title><desc id="{uid}-d">{desc}</desc>{parts}</svg>',
        w=f"{width:g}",
        h=f"{height:g}",
        uid=uid,
        title=title,
        desc=desc,
        parts=mark_safe("".join(parts)),
    )


def _line(kind: str, x1: float, y1: float, x2: float, y2: float) -> SafeString:
    return format_html('<line class="{}" x1="{}" y1="{}" x2="{}" y2="{}"/>', kind, x1, y1, x2, y2)


def _text(x: float, y: float, text: str, anchor: str = "middle") -> SafeString:
    return format_html('<text x="{}" y="{}" text-anchor="{}">{}</text>', x, y, anchor, text)


def trend_svg(trend: Trend, *, title: str) -> SafeString:
    """Day means with their 95 % intervals as a band; hollow points stand for fewer than three swings."""
    if not trend.points:
        return _svg(
            [_text(WIDTH / 2, HEIGHT / 2, "not measured yet")],
            title=title,
            desc="",
            width=WIDTH,
            height=HEIGHT,
        )
    edges = [each.value + side * each.half_width for each in trend.points for side in (-1, 1)]
    ticks = nice_ticks(min(edges), max(edges)) if min(edges) < max(edges) else [edges[0] - 1, edges[0] + 1]
    y = Scale(ticks[0], ticks[-1], HEIGHT - BOTTOM, TOP)
    x = _days(trend.points)
    parts = [
        *_value_axis(ticks, y, words.UNITS.get(trend.unit, trend.unit)),
        _band(trend.points, x, y),
        *_intervals(trend.points, x, y),
        _path(trend.points, x, y),
        *_points(trend.points, x, y),
        *_day_labels(trend.points, x),
    ]
    return _svg(parts, title=title, desc=describe(trend), width=WIDTH, height=HEIGHT)


def describe(trend: Trend) -> str:
    means = "; ".join(
        f"{words.day(each)}: {words.with_width(each.value, each.half_width, trend.unit)} from {each.n}"
        for each in trend.points
    )
    return f"{means}. {words.sentence(trend)}"


def _days(points: Sequence[Point]) -> Scale:
    inset = 18.0
    first, last = points[0].day.toordinal(), points[-1].day.toordinal()
    return Scale(first, last, LEFT + inset, WIDTH - RIGHT - inset)


def _value_axis(ticks: list[float], y: Scale, unit: str) -> Iterable[SafeString]:
    digits = max(0, -math.floor(math.log10(ticks[1] - ticks[0]) + 1e-9))
    for number, tick in enumerate(ticks):
        label = f"{tick:.{digits}f}".replace("-", "−")
        yield _line("hair", LEFT, y(tick), WIDTH - RIGHT, y(tick))
        yield _text(LEFT - 5, y(tick) + 4, f"{label}{unit}" if number == len(ticks) - 1 else label, "end")


def _band(points: Sequence[Point], x: Scale, y: Scale) -> SafeString:
    if len(points) < 2:
        return SafeString("")
    upper = [(x(each.day.toordinal()), y(each.value + each.half_width)) for each in points]
    lower = [(x(each.day.toordinal()), y(each.value - each.half_width)) for each in reversed(points)]
    return format_html('<polygon class="band" points="{}"/>', " ".join(f"{a},{b}" for a, b in upper + lower))


def _intervals(points: Sequence[Point], x: Scale, y: Scale) -> Iterable[SafeString]:
    for each in points:
        at = x(each.day.toordinal())
        yield _line("whisker", at, y(each.value - each.half_width), at, y(each.value + each.half_width))


def _path(points: Sequence[Point], x: Scale, y: Scale) -> SafeString:
    at = " ".join(f"{x(each.day.toordinal())},{y(each.value)}" for each in points)
    return format_html('<polyline class="trend" points="{}"/>', at)


def _points(points: Sequence[Point], x: Scale, y: Scale) -> Iterable[SafeString]:
    for each in points:
        kind = "point" if each.n >= FEWEST_SWINGS else "point few"
        at = x(each.day.toordinal()), y(each.value)
        yield format_html('<circle class="{}" cx="{}" cy="{}" r="5"/>', kind, *at)


def _day_labels(points: Sequence[Point], x: Scale) -> Iterable[SafeString]:
    """Labels that would overlap are left out; the first and the last always stand."""
    least, end = 46.0, x(points[-1].day.toordinal())
    taken = -math.inf
    for number, each in enumerate(points):
        at, is_last = x(each.day.toordinal()), number == len(points) - 1
        if is_last or (at - taken >= least and end - at >= least):
            yield _text(at, HEIGHT - 14, words.short_day(each))
            taken = at


def bins_svg(bins: Sequence[Bin], *, title: str, desc: str) -> SafeString:
    """Answers by their hours on the promise clock; what came after the promise is drawn hollow and dashed."""
    most = max((each.answers for each in bins), default=0) or 1
    y = Scale(0, most, HEIGHT - BOTTOM - 12, TOP + 14)
    step = (WIDTH - 2 * RIGHT) / len(bins)
    parts = [_line("axis", RIGHT, y(0), WIDTH - RIGHT, y(0))]
    for number, each in enumerate(bins):
        left = RIGHT + number * step
        parts.append(
            _bar(left + 4, y(each.answers), step - 8, y(0), "bar" if each.within_promise else "bar over")
        )
        parts.append(_text(left + step / 2, y(each.answers) - 5, str(each.answers)))
        parts.append(_text(left + step / 2, y(0) + 16, hours_label(each)))
    promised = sum(each.within_promise for each in bins) * step + RIGHT
    parts += [_line("promise", promised, TOP, promised, y(0)), _text(promised, HEIGHT - 6, "promised ↑")]
    return _svg(parts, title=title, desc=desc, width=WIDTH, height=HEIGHT)


def hours_label(each: Bin) -> str:
    return f"≤ {each.to_hours:g} h" if math.isfinite(each.to_hours) else f"> {each.from_hours:g} h"


def _bar(left: float, top: float, width: float, bottom: float, kind: str) -> SafeString:
    return format_html(
        '<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>',
        kind,
        round(left, 1),
        round(top, 1),
        round(width, 1),
        round(bottom - top, 1),
    )


def weeks_svg(prevalence: Prevalence, *, title: str) -> SafeString:
    """One sign over the camp weeks: the share of students in whom it was confirmed, as "confirmed/could show it"."""
    height = 130.0
    y = Scale(0, 1, height - 24, 22)
    step = (WIDTH - 2 * RIGHT) / max(1, len(prevalence.weeks))
    width = min(44.0, step - 6)
    parts = [_line("axis", RIGHT, y(0), WIDTH - RIGHT, y(0)), _line("hair", RIGHT, y(1), WIDTH - RIGHT, y(1))]
    for number, week in enumerate(prevalence.weeks):
        middle = RIGHT + (number + 0.5) * step
        parts.append(_text(middle, height - 8, str(week.week) if number else f"week {week.week}"))
        if week.share is None:
            parts.append(_text(middle, y(0) - 5, "–"))
            continue
        parts.append(_bar(middle - width / 2, y(week.share), width, y(0), "bar"))
        parts.append(_text(middle, y(week.share) - 5, f"{week.confirmed}/{week.students}"))
    return _svg(parts, title=title, desc=_weeks_words(prevalence), width=WIDTH, height=height)


def _weeks_words(prevalence: Prevalence) -> str:
    said = [
        f"week {week.week}: {week.confirmed} of {week.students}" for week in prevalence.weeks if week.students
    ]
    return f"Confirmed in {'; '.join(said) or 'no week'}."
