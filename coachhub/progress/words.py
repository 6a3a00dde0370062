"""Trends in honest words: what the noise could make is never called a change, and no direction is called better."""

from __future__ import annotations

import math

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
    days = f"{day(first)} and {day(last)}"
    size = with_width(trend.change.value, trend.change.half_width, trend.unit, signed=True)
    if trend.verdict == "changed":
        return f"Between {days} it changed by {size}: more than swing-to-swing spread and noise could make."
    return f"No change we can measure between {days}: the difference is {size}."


def left_out(trend: Trend) -> str:
    if not trend.left_out:
        return ""
    swings = "1 swing" if trend.left_out == 1 else f"{trend.left_out} swings"
    return f"{swings} filmed at another frame rate can't be compared and are left out."


def day(point: Point) -> str:
    return f"{point.day.day} {point.day:%B}"


def short_day(point: Point) -> str:
    return f"{point.day.day} {point.day:%b}"


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
