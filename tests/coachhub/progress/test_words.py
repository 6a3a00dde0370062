"""No sentence of a trend claims what the noise could have made, whatever the swings were."""

from __future__ import annotations

import math
import re
from datetime import date, timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from analysis.compare import MeasuredSwing, compare_sessions
from analysis.types import Metric
from coachhub.progress import plots, words
from coachhub.progress.domain.noise import mean_of
from coachhub.progress.domain.trends import Point, Trend

pytestmark = pytest.mark.unit

FIRST = date(2026, 6, 1)
CLAIMS = re.compile(
    r"changed|better|worse|improv|progress|increas|decreas|\bmore\b(?! than)|less|grew|rose|fell|gone|faded|moved",
    re.IGNORECASE,
)
# How the sentences say that nothing is claimed.
DENIALS = ("No change we can measure",)

values = st.floats(-80, 80, allow_nan=False)
tenths = st.integers(-800, 800).map(lambda number: number / 10)
a_day = st.lists(values, min_size=1, max_size=6)


def trend(days: list[list[float]], se: float) -> Trend:
    points = [
        Point(FIRST + timedelta(days=5 * number), mean_of(found, [se] * len(found)), tuple(found))
        for number, found in enumerate(days)
    ]
    return Trend("tilt", "deg", "face_on", "iron", 60, points)


def said_of(one: Trend) -> str:
    root = plots.trend_svg(one, title="Tilt")
    return " ".join(
        (words.sentence(one), words.detectable(one), words.left_out(one), plots.describe(one), root)
    )


def claims(text: str) -> list[str]:
    for denial in DENIALS:
        text = text.replace(denial, "")
    return CLAIMS.findall(re.sub(r"<[^>]*>", " ", text))


@given(st.lists(a_day, min_size=1, max_size=5), st.floats(0.01, 10))
def test_below_the_noise_no_word_of_change_appears(days: list[list[float]], se: float) -> None:
    one = trend(days, se)
    assume(one.change is None or abs(one.change.value) <= one.change.half_width)
    assert claims(said_of(one)) == []


@given(a_day, a_day, st.floats(0.01, 10))
def test_nor_in_what_is_said_of_the_first_and_the_latest_day(
    before: list[float], after: list[float], se: float
) -> None:
    sides = [
        [MeasuredSwing("face_on", "iron", 60.0, {"tilt": Metric("tilt", "deg", value, se)}) for value in side]
        for side in (before, after)
    ]
    change = compare_sessions(*sides)["tilt"]
    few = min(len(before), len(after)) < 3
    assert change.difference is not None
    assert change.detectable is not None
    assume(few or abs(change.difference) <= change.detectable)
    assert claims(words.change_sentence(change)) == []


def test_the_words_searched_for_are_those_of_a_claim() -> None:
    """The search itself finds something, where there is something."""
    one = trend([[10, 10.5, 11], [40, 40.5, 41]], 1.0)
    assert claims(words.sentence(one)) == ["changed"]


@given(
    st.lists(tenths, min_size=3, max_size=8, unique=True),
    st.lists(tenths, min_size=3, max_size=8, unique=True),
)
def test_the_smallest_detectable_change_is_welchs_interval(before: list[float], after: list[float]) -> None:
    """Against scipy's Welch interval; the site takes whole degrees of freedom from a printed table, so it is wider."""
    one = trend([before, after], 0.0)
    (limit,) = one.limits
    assert one.detectable == limit.half_width
    found = stats.ttest_ind(after, before, equal_var=False)
    interval = found.confidence_interval(0.95)
    assume(math.isfinite(interval.high - interval.low))
    se = (interval.high - interval.low) / 2 / stats.t.ppf(0.975, found.df)
    # Whole degrees of freedom, the fewer where rounding leaves two to choose from.
    most = stats.t.ppf(0.975, max(1, math.floor(found.df - 1e-6))) * se
    assert (interval.high - interval.low) / 2 * (1 - 1e-3) <= limit.half_width <= most * (1 + 1e-3)


def test_before_a_second_full_day_it_says_from_which_difference_on_one_could_tell() -> None:
    one = trend([[10, 11, 12]], 0.0)
    # Welch of a day with itself: sd 1, n 3 on each side, 4 degrees of freedom: t = 2.776.
    assert one.detectable == pytest.approx(2.776 * math.sqrt(2 / 3), rel=1e-3)
    assert words.detectable(one) == (
        "After another day like 1 June a difference of more than 2° could be told."
    )
    assert words.detectable(trend([[10, 11]], 0.0)) == ""


def test_the_days_are_said_in_the_readers_language() -> None:
    from django.utils import translation

    one = trend([[10, 10.5, 11], [40, 40.5, 41]], 1.0)
    with translation.override("de"):
        assert "1. Juni" in words.sentence(one) or "1 Juni" in words.sentence(one)
