"""What plots are made of: scales, ticks, lines and words as SVG, made on the server. No script, no inline style, and a
title and a description for who can't see them. The table of the same numbers belongs behind each plot."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from zlib import crc32

from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from coachhub.common.days import local_format
from coachhub.common.wording import say
from coachhub.progress.domain.coaching import CoachedDay

WIDTH, HEIGHT = 360.0, 210.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 12.0, 14.0, 34.0
INSET = 18.0
# Room for the numbers of coached days, in rows above each other where days are close.
LANE, LANE_ROWS, NUMBER_WIDTH = 15.0, 3, 17.0
# Units that stand at a number without a space.
SIGNS = ("", "°", "%")


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


@dataclass(frozen=True)
class Days:
    """The time axis that all plots of a page share."""

    first: date
    last: date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError(f"last must not lie before first, got {self.first} and {self.last}")

    @property
    def scale(self) -> Scale:
        return Scale(self.first.toordinal(), self.last.toordinal(), LEFT + INSET, WIDTH - RIGHT - INSET)

    def x(self, day: date) -> float:
        return self.scale(day.toordinal())


def days_of(days: Iterable[date]) -> Days | None:
    known = list(days)
    return Days(min(known), max(known)) if known else None


def nice_ticks(low: float, high: float, *, most: int = 5) -> list[float]:
    """Round numbers covering ``low``..``high``: steps of 1, 2 or 5 times a power of ten, at most ``most`` steps."""
    if not (math.isfinite(low) and math.isfinite(high) and low < high):
        raise ValueError(f"low must be finite and less than high, not {low!r} and {high!r}")
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(size * power for size in (1, 2, 5, 10) if size * power >= rough * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [number * step for number in range(first, last + 1)]


def tick_words(ticks: Sequence[float]) -> list[str]:
    digits = max(0, -math.floor(math.log10(ticks[1] - ticks[0]) + 1e-9))
    return [f"{tick + 0.0:.{digits}f}".replace("-", "−") for tick in ticks]


def svg(
    parts: Iterable[SafeString],
    *,
    title: str,
    desc: str,
    width: float,
    height: float,
    kind: str = "",
    is_name: bool = False,
) -> SafeString:
    """``is_name``: the title is a person's name, which is nobody's to translate."""
    uid = f"plot-{crc32(f'{title}/{desc}'.encode()):08x}"
    return format_html(
        '<svg class="plot{kind}" viewBox="0 0 {w} {h}" role="img" aria-labelledby="{uid}-t {uid}-d">'
        '<title id="{uid}-t">{title}</title><desc id="{uid}-d">{desc}</desc>{parts}</svg>',
        kind=f" {kind}" if kind else "",
        w=f"{width:g}",
        h=f"{height:g}",
        uid=uid,
        title=title if is_name else say(title),
        desc=say(desc),
        parts=mark_safe("".join(parts)),
    )


def line(kind: str, x1: float, y1: float, x2: float, y2: float) -> SafeString:
    return format_html('<line class="{}" x1="{}" y1="{}" x2="{}" y2="{}"/>', kind, x1, y1, x2, y2)


def circle(kind: str, x: float, y: float, radius: float) -> SafeString:
    return format_html('<circle class="{}" cx="{}" cy="{}" r="{}"/>', kind, x, y, f"{radius:g}")


def box(kind: str, left: float, top: float, width: float, height: float) -> SafeString:
    sizes = (round(each, 1) for each in (left, top, width, height))
    return format_html('<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>', kind, *sizes)


def text(x: float, y: float, words: str, anchor: str = "middle", *, kind: str = "") -> SafeString:
    """``kind`` "over": readable also where lines run behind it."""
    if kind:
        return format_html(
            '<text class="{}" x="{}" y="{}" text-anchor="{}">{}</text>', kind, x, y, anchor, words
        )
    return format_html('<text x="{}" y="{}" text-anchor="{}">{}</text>', x, y, anchor, words)


def value_axis(ticks: Sequence[float], y: Scale, unit: str) -> Iterable[SafeString]:
    """A sign stands at the top number, a unit in words above it."""
    labels, is_sign = tick_words(ticks), unit in SIGNS
    for number, (tick, label) in enumerate(zip(ticks, labels, strict=True)):
        is_top = number == len(ticks) - 1
        yield line("hair", LEFT, y(tick), WIDTH - RIGHT, y(tick))
        yield text(LEFT - 5, y(tick) + 4, f"{label}{unit}" if is_top and is_sign else label, "end")
    if not is_sign:
        yield unit_words(unit, y(ticks[-1]))


def unit_words(unit: str, top: float) -> SafeString:
    return text(LEFT + 3, top - 3, say(unit), "start", kind="over")


def day_labels(days: Sequence[date], axis: Days, y: float) -> Iterable[SafeString]:
    """Labels that would overlap are left out; the first and the last always stand."""
    least, end = 46.0, axis.x(days[-1])
    taken = -math.inf
    for number, day in enumerate(days):
        at, is_last = axis.x(day), number == len(days) - 1
        if is_last or (at - taken >= least and end - at >= least):
            yield text(at, y, short_day(day))
            taken = at


def short_day(day: date) -> str:
    return date_format(day, local_format("j M"))


def lane_height(coached: Sequence[CoachedDay], axis: Days) -> float:
    return LANE * (1 + max(lane_rows(coached, axis))) + 3 if coached else 0.0


def lane_rows(coached: Sequence[CoachedDay], axis: Days) -> list[int]:
    """In which row each number stands, so that none covers another as far as the rows reach."""
    taken = [-math.inf] * LANE_ROWS
    rows = []
    for one in coached:
        at = axis.x(one.day)
        row = next((each for each, end in enumerate(taken) if at - end >= NUMBER_WIDTH), LANE_ROWS - 1)
        taken[row] = at
        rows.append(row)
    return rows


def coached_lane(
    coached: Sequence[CoachedDay], axis: Days, top: float, bottom: float
) -> Iterable[SafeString]:
    """The days on which the coaching did something: a number above, a line down through the plot."""
    if not coached:
        return
    rows = lane_rows(coached, axis)
    height = lane_height(coached, axis)
    yield text(LEFT - 5, top + 11, say("coach"), "end")
    for one, row in zip(coached, rows, strict=True):
        at, middle = axis.x(one.day), top + LANE * row + LANE / 2
        yield line("coached", at, min(middle + 7, top + height), at, bottom)
        yield box("coached-day", at - 7.5, middle - 7, 15, 14)
        yield text(at, middle + 4, str(one.number), kind="coached-number")
