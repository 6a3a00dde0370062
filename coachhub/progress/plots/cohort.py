"""Plots of many: answers against the promise, a sign over the weeks, and one number of each student, small."""

from __future__ import annotations

import math
from collections.abc import Sequence

from django.utils.safestring import SafeString

from coachhub.common.wording import say
from coachhub.progress.domain.signs import Prevalence
from coachhub.progress.domain.trends import Trend
from coachhub.progress.domain.turnaround import Bin
from coachhub.progress.plots.svg import (
    BOTTOM,
    HEIGHT,
    LEFT,
    RIGHT,
    SIGNS,
    TOP,
    WIDTH,
    Days,
    Scale,
    box,
    line,
    short_day,
    svg,
    text,
    tick_words,
    unit_words,
)
from coachhub.progress.plots.trend import describe, marks_of

SMALL_HEIGHT = 150.0


def bins_svg(bins: Sequence[Bin], *, title: str, desc: str) -> SafeString:
    """Answers by their hours on the promise clock; what came after the promise is drawn hollow and dashed."""
    most = max((each.answers for each in bins), default=0) or 1
    y = Scale(0, most, HEIGHT - BOTTOM - 12, TOP + 14)
    step = (WIDTH - 2 * RIGHT) / len(bins)
    parts = [line("axis", RIGHT, y(0), WIDTH - RIGHT, y(0))]
    for number, each in enumerate(bins):
        left, top = RIGHT + number * step, y(each.answers)
        parts.append(box("bar" if each.within_promise else "bar over", left + 4, top, step - 8, y(0) - top))
        parts.append(text(left + step / 2, top - 5, str(each.answers)))
        parts.append(text(left + step / 2, y(0) + 16, hours_label(each)))
    promised = sum(each.within_promise for each in bins) * step + RIGHT
    parts += [line("promise", promised, TOP, promised, y(0)), text(promised, HEIGHT - 6, say("promised ↑"))]
    return svg(parts, title=title, desc=desc, width=WIDTH, height=HEIGHT)


def hours_label(each: Bin) -> str:
    return f"≤ {each.to_hours:g} h" if math.isfinite(each.to_hours) else f"> {each.from_hours:g} h"


def weeks_svg(prevalence: Prevalence, *, title: str) -> SafeString:
    """One sign over the camp weeks: the share of students in whom it was confirmed, as "confirmed/could show it"."""
    height = 130.0
    y = Scale(0, 1, height - 24, 22)
    step = (WIDTH - 2 * RIGHT) / max(1, len(prevalence.weeks))
    width = min(44.0, step - 6)
    parts = [line("axis", RIGHT, y(0), WIDTH - RIGHT, y(0)), line("hair", RIGHT, y(1), WIDTH - RIGHT, y(1))]
    for number, week in enumerate(prevalence.weeks):
        middle = RIGHT + (number + 0.5) * step
        label = str(week.week) if number else say(f"week {week.week}")
        parts.append(text(middle, height - 8, label))
        if week.share is None:
            parts.append(text(middle, y(0) - 5, "–"))
            continue
        parts.append(box("bar", middle - width / 2, y(week.share), width, y(0) - y(week.share)))
        parts.append(text(middle, y(week.share) - 5, f"{week.confirmed}/{week.students}"))
    return svg(parts, title=title, desc=_weeks_words(prevalence), width=WIDTH, height=height)


def _weeks_words(prevalence: Prevalence) -> str:
    said = [
        f"week {week.week}: {week.confirmed} of {week.students}" for week in prevalence.weeks if week.students
    ]
    return f"Confirmed in {'; '.join(said) or 'no week'}."


def small_svg(trend: Trend, *, title: str, axis: Days, ticks: Sequence[float], unit: str = "") -> SafeString:
    """One student's number on the scales that all students of the page share."""
    y = Scale(ticks[0], ticks[-1], SMALL_HEIGHT - 24, 12)
    ends = (ticks[0], ticks[-1])
    names = tick_words(ticks)
    parts = [line("hair", LEFT, y(tick), WIDTH - RIGHT, y(tick)) for tick in ticks]
    parts += [
        text(LEFT - 5, y(tick) + 4, name, "end")
        for tick, name in zip(ends, (names[0], names[-1] + (unit if unit in SIGNS else "")), strict=True)
    ]
    parts += [
        text(axis.x(axis.first), SMALL_HEIGHT - 6, short_day(axis.first)),
        text(axis.x(axis.last), SMALL_HEIGHT - 6, short_day(axis.last)),
    ]
    if unit not in SIGNS:
        parts.append(unit_words(unit, y(ticks[-1])))
    parts += marks_of(trend, axis, y, swings=False)
    desc = describe(trend)
    return svg(parts, title=title, desc=desc, width=WIDTH, height=SMALL_HEIGHT, kind="small", is_name=True)
