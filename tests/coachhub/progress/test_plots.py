from __future__ import annotations

import math
from datetime import date, timedelta
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coachhub.progress import plots, words
from coachhub.progress.domain.coaching import Coached, CoachedDay, Kind, by_day
from coachhub.progress.domain.noise import mean_of
from coachhub.progress.domain.sign_marks import Mark, SignMarks, SignRow
from coachhub.progress.domain.signs import Prevalence, Share
from coachhub.progress.domain.trends import Point, Trend
from coachhub.progress.domain.turnaround import Bin
from coachhub.progress.plots.svg import lane_rows

pytestmark = pytest.mark.unit

FIRST = date(2026, 6, 1)


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def found(root: ElementTree.Element, tag: str, kind: str) -> list[ElementTree.Element]:
    return [each for each in root.iter(tag) if each.get("class") == kind]


def means_of(root: ElementTree.Element) -> list[ElementTree.Element]:
    return [each for each in root.iter("circle") if "point" in str(each.get("class")).split()]


def trend(*days: list[float], noise: float = 1.0, unit: str = "deg") -> Trend:
    points = [
        Point(FIRST + timedelta(days=7 * number), mean_of(values, [noise] * len(values)), tuple(values))
        for number, values in enumerate(days)
    ]
    return Trend("tilt", unit, "face_on", "iron", 60, points)


def test_a_trend_shows_each_day_with_its_interval() -> None:
    root = parsed(plots.trend_svg(trend([10, 11, 12], [14], [20, 21, 22]), title="Side tilt"))
    assert len(found(root, "circle", "point")) == 2
    assert len(found(root, "circle", "point few")) == 1
    assert len(found(root, "line", "whisker")) == 3
    assert len(found(root, "polygon", "band")) == 1
    heights = [float(each.get("cy", "nan")) for each in means_of(root)]
    assert heights == sorted(heights, reverse=True)


def test_the_band_is_as_wide_as_the_interval() -> None:
    one = trend([10, 11, 12], [20, 21, 22])
    root = parsed(plots.trend_svg(one, title="x"))
    whisker = found(root, "line", "whisker")[0]
    first, last = (float(each.get("cy", "nan")) for each in means_of(root))
    pixels_per_degree = (first - last) / 10
    length = abs(float(whisker.get("y1", "nan")) - float(whisker.get("y2", "nan")))
    assert length == pytest.approx(2 * one.points[0].half_width * pixels_per_degree, rel=0.02)


def test_whoever_cannot_see_it_is_told_the_same() -> None:
    root = parsed(plots.trend_svg(trend([10, 11, 12], [20, 21, 22]), title="Side tilt <at> top"))
    title, desc = root.find("title"), root.find("desc")
    assert title is not None
    assert desc is not None
    assert title.text == "Side tilt <at> top"
    assert "1 June: 11" in (desc.text or "")
    assert "from 3" in (desc.text or "")
    assert (root.get("aria-labelledby") or "").split() == [title.get("id"), desc.get("id")]


def test_two_plots_of_a_page_have_different_ids() -> None:
    ids = {parsed(plots.trend_svg(trend([value]), title="x")).get("aria-labelledby") for value in (1.0, 2.0)}
    assert len(ids) == 2


@pytest.mark.parametrize("one", [trend(), trend([5.0], noise=0.0), trend([0.0, 0.0], [0.0, 0.0], noise=0.0)])
def test_a_trend_without_width_is_still_drawn(one: Trend) -> None:
    assert parsed(plots.trend_svg(one, title="x")).get("role") == "img"


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_ticks_are_round_and_cover_the_range(low: float, width: float) -> None:
    high = low + width
    ticks = plots.nice_ticks(low, high)
    step = ticks[1] - ticks[0]
    assert ticks[0] <= low + 1e-6 * step
    assert ticks[-1] >= high - 1e-6 * step
    assert 2 <= len(ticks) <= 8
    mantissa = step / 10 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(mantissa - nice) for nice in (1, 2, 5, 10)) < 1e-3


@pytest.mark.parametrize(("low", "high"), [(1.0, 1.0), (2.0, 1.0), (0.0, math.inf), (math.nan, 1.0)])
def test_ticks_refuse_an_empty_range(low: float, high: float) -> None:
    with pytest.raises(ValueError, match="low"):
        plots.nice_ticks(low, high)


def test_bars_are_as_high_as_their_counts_and_late_ones_look_different() -> None:
    bins = [Bin(0, 24, 4, True), Bin(24, 48, 2, True), Bin(48, math.inf, 1, False)]
    root = parsed(plots.bins_svg(bins, title="x", desc="y"))
    heights = [float(each.get("height", "nan")) for each in root.iter("rect")]
    assert heights[0] == pytest.approx(2 * heights[1], abs=0.2)
    assert heights[0] == pytest.approx(4 * heights[2], abs=0.2)
    assert [each.get("class") for each in root.iter("rect")] == ["bar", "bar", "bar over"]
    assert "> 48 h" in [each.text for each in root.iter("text")]


def test_a_week_without_students_has_no_bar() -> None:
    weeks = (Share(1, 2, 5), Share(2, 0, 0), Share(3, 0, 4))
    root = parsed(plots.weeks_svg(Prevalence("sway", weeks, 2, 5), title="sway"))
    assert len(list(root.iter("rect"))) == 2
    labels = [each.text for each in root.iter("text")]
    assert "2/5" in labels
    assert "–" in labels
    desc = root.find("desc")
    assert desc is not None
    assert desc.text == "Confirmed in week 1: 2 of 5; week 3: 0 of 4."


@pytest.mark.parametrize(
    ("value", "half", "text"),
    [
        (34.12, 4.2, "34 ± 4°"),
        (-3.456, 1.2, "−3.5 ± 1.2°"),
        (-0.04, 4.0, "0 ± 4°"),
        (0.8123, 0.034, "0.81 ± 0.03°"),
    ],
)
def test_no_digits_that_the_noise_does_not_allow(value: float, half: float, text: str) -> None:
    assert words.with_width(value, half, "deg") == text


def test_a_change_is_never_called_better() -> None:
    for one in (trend([10, 11, 12], [40, 41, 42]), trend([40, 41, 42], [10, 11, 12]), trend([1], [2])):
        said = words.sentence(one).lower()
        assert not any(word in said for word in ("better", "worse", "improv", "good", "bad"))


def coached(*days: date) -> list[CoachedDay]:
    return by_day(Coached(day, Kind.PRIORITY, "Ball first") for day in days)


def test_the_coachings_days_stand_on_the_axis_of_all_plots() -> None:
    one = trend([10, 11, 12], [20, 21, 22])
    axis = plots.Days(FIRST - timedelta(days=7), FIRST + timedelta(days=14))
    root = parsed(plots.trend_svg(one, title="x", axis=axis, coached=coached(FIRST)))
    (number,) = (text for text in root.iter("text") if text.get("class") == "coached-number")
    (mean, *_) = (circle for circle in root.iter("circle") if circle.get("class") == "point")
    # The same day at the same place, a third of the way along the axis.
    assert number.get("x") == mean.get("cx") == str(axis.x(FIRST))
    start, end = axis.x(axis.first), axis.x(axis.last)
    assert axis.x(FIRST) == pytest.approx(start + (end - start) / 3, abs=0.1)


@given(st.lists(st.integers(0, 60), min_size=1, max_size=12, unique=True))
def test_numbers_of_close_days_do_not_cover_each_other_while_there_is_a_row(offsets: list[int]) -> None:
    days = sorted(FIRST + timedelta(days=each) for each in offsets)
    axis = plots.Days(FIRST, FIRST + timedelta(days=60))
    rows = lane_rows(coached(*days), axis)
    placed = [(axis.x(day), row) for day, row in zip(days, rows, strict=True)]
    for place, (at, row) in enumerate(placed):
        before = [x for x, other in placed[:place] if other == row]
        free = {
            other for other in range(3) if all(at - x >= 17 for x, each in placed[:place] if each == other)
        }
        assert not before or at - before[-1] >= 17 or not free


def test_dashed_lines_stand_at_the_smallest_detectable_change() -> None:
    one = trend([10, 11, 12], [20, 21, 22])
    root = parsed(plots.trend_svg(one, title="x"))
    lines = [each for each in root.iter("polyline") if each.get("class") == "limit"]
    ends = [float(str(each.get("points")).split()[-1].split(",")[1]) for each in lines]
    points = [each for each in root.iter("circle") if each.get("class") == "point"]
    first, last = (float(str(each.get("cy"))) for each in points)
    assert one.change is not None
    # Pixels per unit from the two means, ten apart; downward is less.
    per_unit = (first - last) / one.change.value
    expected = [first + one.change.half_width * per_unit, first - one.change.half_width * per_unit]
    assert ends == pytest.approx(expected, abs=0.2)
    # The last mean lies outside them: it changed.
    assert last < min(ends)


def test_each_swing_is_a_dot() -> None:
    root = parsed(plots.trend_svg(trend([10, 11, 12], [20]), title="x"))
    assert sum(each.get("class") == "swing" for each in root.iter("circle")) == 4


def test_every_mark_of_a_sign_has_a_shape_of_its_own() -> None:
    shapes = {str(plots.mark_key(mark)) for mark in Mark}
    assert len(shapes) == len(Mark)


def test_lanes_say_in_words_what_they_draw() -> None:
    marks = SignMarks((FIRST,), (SignRow("sway", (Mark.CONFIRMED,)),))
    axis = plots.Days(FIRST, FIRST)
    root = parsed(plots.signs_svg(marks, title="Signs", label=str, axis=axis))
    assert root.findtext("desc") == "Sway: 1 Jun: confirmed by a coach."


def test_an_axis_does_not_run_backwards() -> None:
    with pytest.raises(ValueError, match="last"):
        plots.Days(FIRST, FIRST - timedelta(days=1))
