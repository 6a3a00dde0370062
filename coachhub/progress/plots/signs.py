"""A student's signs as lanes on the time axis: what was said of each on each range day, told apart by shape."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import capfirst

from coachhub.common.wording import say
from coachhub.progress.domain.coaching import CoachedDay
from coachhub.progress.domain.sign_marks import MARK_WORDS, Mark, SignMarks
from coachhub.progress.plots.svg import (
    BOTTOM,
    LEFT,
    RIGHT,
    WIDTH,
    Days,
    box,
    circle,
    coached_lane,
    day_labels,
    lane_height,
    line,
    short_day,
    svg,
    text,
)

ROW = 36.0


def signs_svg(
    marks: SignMarks,
    *,
    title: str,
    label: Callable[[str], str],
    axis: Days,
    coached: Sequence[CoachedDay] = (),
) -> SafeString:
    lane = lane_height(coached, axis)
    height = lane + 6 + ROW * len(marks.rows) + BOTTOM
    parts = list(coached_lane(coached, axis, 2, height - BOTTOM))
    for number, row in enumerate(marks.rows):
        top = lane + 6 + ROW * number
        parts.append(text(LEFT - 30, top + 12, capfirst(say(label(row.sign))), "start", kind="over"))
        parts.append(line("hair", LEFT, top + 26, WIDTH - RIGHT, top + 26))
        for day, mark in zip(marks.days, row.marks, strict=True):
            if mark is not None:
                parts += mark_parts(mark, axis.x(day), top + 26)
    if marks.days:
        parts += day_labels(marks.days, axis, height - 10)
    return svg(parts, title=title, desc=describe_signs(marks, label), width=WIDTH, height=height)


def describe_signs(marks: SignMarks, label: Callable[[str], str]) -> str:
    said = []
    for row in marks.rows:
        known = [
            f"{short_day(day)}: {say(MARK_WORDS[mark])}"
            for day, mark in zip(marks.days, row.marks, strict=True)
            if mark is not None
        ]
        said.append(f"{capfirst(say(label(row.sign)))}: {'; '.join(known)}.")
    return " ".join(said)


def mark_parts(mark: Mark, x: float, y: float) -> Iterable[SafeString]:
    """Round: a coach's word. Square: the measuring alone."""
    if mark == Mark.CONFIRMED:
        return [circle("mark full", x, y, 6.5)]
    if mark == Mark.DISPUTED:
        half = format_html('<path class="mark full" d="M{0} {1}a6.5 6.5 0 0 0 0 13z"/>', x, round(y - 6.5, 1))
        return [circle("mark", x, y, 6.5), half]
    if mark == Mark.DISMISSED:
        return [circle("mark", x, y, 6.5), line("mark", x - 4.5, y + 4.5, x + 4.5, y - 4.5)]
    if mark == Mark.NOT_CONFIRMED:
        return [circle("mark", x, y, 6.5)]
    if mark == Mark.LIKELY:
        return [box("mark wash", x - 5.5, y - 5.5, 11, 11)]
    if mark == Mark.POSSIBLE:
        return [box("mark thin", x - 5.5, y - 5.5, 11, 11)]
    if mark == Mark.NOT_SEEN:
        return [line("mark", x - 5, y, x + 5, y)]
    return [circle("mark full", x, y, 2)]


def mark_key(mark: Mark) -> SafeString:
    """The mark alone, for the list that says what each means."""
    parts = mark_safe("".join(mark_parts(mark, 9, 9)))
    return format_html('<svg class="plot mark-key" viewBox="0 0 18 18" aria-hidden="true">{}</svg>', parts)
