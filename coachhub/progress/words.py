"""Trends in honest words: what the noise could make is never called a change, and no direction is called better."""

from __future__ import annotations

import math
from datetime import date

from django.utils.formats import date_format

from analysis.compare import CHANGED, NO_CHANGE, NOT_MEASURED, Change
from coachhub.common.days import local_format
from coachhub.progress.domain.noise import FEWEST_SWINGS
from coachhub.progress.domain.trends import Point, Trend

UNITS = {"deg": "°", "ratio": "", "1": "", "pct": "%", "percent": "%"}
AS_FEW = {
    "none": "Not measured yet.",
    "one_swing": "One swing only on each day. "
    f"Film at least {FEWEST_SWINGS} with the same club and view to see whether something changes.",
    "one_day": "One range session only. A change needs a second one.",
    "too_few": f"A change can be told only between two days with at least {FEWEST_SWINGS} swings each.",
}


def sentence(trend: Trend) -> str:
    if trend.verdict in AS_FEW:
        return AS_FEW[trend.verdict]
    assert trend.compared is not None
    assert trend.change is not None
    first, last = trend.compared
    size = with_width(trend.change.value, trend.change.half_width, trend.unit, signed=True)
    if trend.verdict == "changed":
        return (
            f"Between {day(first)} and {day(last)} it changed by {size}: "
            "more than swing-to-swing spread and noise could make."
        )
    return f"No change we can measure between {day(first)} and {day(last)}: the difference is {size}."


def detectable(trend: Trend) -> str:
    """From which difference on a change could be told, as these swings spread; empty where nothing tells it."""
    if trend.detectable is None:
        return ""
    size = amount(trend.detectable, trend.unit)
    if trend.change is not None:
        return f"Smallest difference that could be told between these days: {size}."
    return f"After another day like {day(trend.full[0])} a difference of more than {size} could be told."


def change_sentence(change: Change) -> str:
    """Of the first and the latest day; "changed" only where the comparison of the days says so."""
    if change.verdict == NOT_MEASURED or change.difference is None or change.detectable is None:
        return "Not measured on one of the two days."
    least = amount(change.detectable, change.unit)
    size = signed(change.difference, change.detectable, change.unit)
    if change.verdict == CHANGED:
        return f"Changed by {size}; more than {least} can be told."
    if change.verdict == NO_CHANGE:
        return f"No change we can measure: {size}, and it would have to be more than {least}."
    return f"Too few swings to tell a change: at least {FEWEST_SWINGS} on each day."


def signed(value: float, width: float, unit: str) -> str:
    """A difference with its sign, in the digits that its noise allows: ``+3°``."""
    digits = digits_for(width)
    rounded = round(value, digits) + 0.0  # no "−0"
    sign = UNITS.get(unit, unit)
    number = f"{rounded:{'+' if rounded else ''}.{digits}f}".replace("-", "−")
    return f"{number}{'' if sign in ('', '°') else ' '}{sign}"


def left_out(trend: Trend) -> str:
    if not trend.left_out:
        return ""
    swings = "1 swing" if trend.left_out == 1 else f"{trend.left_out} swings"
    return f"{swings} filmed at another frame rate can't be compared and are left out."


def day(point: Point) -> str:
    return day_words(point.day)


def day_words(at: date) -> str:
    return date_format(at, local_format("j F"))


def value_words(value: float, width: float, unit: str) -> str:
    """A number in the digits that its noise allows, without saying the noise: ``34°``."""
    digits = digits_for(width)
    sign = UNITS.get(unit, unit)
    number = f"{round(value, digits) + 0.0:.{digits}f}".replace("-", "−")
    return f"{number}{'' if sign in ('', '°') else ' '}{sign}"


def amount(size: float, unit: str) -> str:
    """A size without its own interval: ``4°``."""
    sign = UNITS.get(unit, unit)
    return f"{size:.{digits_for(size)}f}{'' if sign in ('', '°') else ' '}{sign}"


def with_width(value: float, half_width: float, unit: str, *, signed: bool = False) -> str:
    """``34 ± 4°``: as many digits as the width of the 95 % interval allows."""
    digits = digits_for(half_width)
    rounded = round(value, digits) + 0.0  # no "−0"
    number = f"{rounded:{'+' if signed and rounded else ''}.{digits}f}".replace("-", "−")
    sign = UNITS.get(unit, unit)
    space = "" if sign in ("", "°") else " "
    return f"{number} ± {half_width:.{digits}f}{space}{sign}"


def digits_for(width: float) -> int:
    """Digits behind the point so that ``width`` shows one to two figures that count."""
    if not width > 0 or math.isinf(width):
        return 1
    return min(4, max(0, -math.floor(math.log10(width / 2))))
