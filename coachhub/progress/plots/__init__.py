"""Small plots as SVG; each has the table of the same numbers behind it."""

from coachhub.progress.plots.cohort import bins_svg, hours_label, small_svg, weeks_svg
from coachhub.progress.plots.signs import mark_key, signs_svg
from coachhub.progress.plots.svg import Days, days_of, nice_ticks
from coachhub.progress.plots.trend import describe, trend_svg, value_ticks

__all__ = [
    "Days",
    "bins_svg",
    "days_of",
    "describe",
    "hours_label",
    "mark_key",
    "nice_ticks",
    "signs_svg",
    "small_svg",
    "trend_svg",
    "value_ticks",
    "weeks_svg",
]
