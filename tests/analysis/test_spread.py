"""Means and their difference against an independent statistics library, and against their own promise."""

from __future__ import annotations

import math
import random

import pytest
from scipy import stats

from analysis.spread import COMMON_SHARE, Mean, difference, mean_of, smallest_detectable, t_975

pytestmark = pytest.mark.unit


@pytest.mark.parametrize("df", [*range(1, 31), 40, 50, 60, 80, 100])
def test_the_table_of_t_is_students(df: int) -> None:
    assert t_975(df) == pytest.approx(stats.t.ppf(0.975, df), abs=6e-4)


@pytest.mark.parametrize("df", [1.7, 2.99, 30.5, 35, 59, 1000])
def test_between_rows_the_interval_is_never_too_narrow(df: float) -> None:
    assert t_975(df) >= stats.t.ppf(0.975, df) - 6e-4


def test_without_measurement_noise_it_is_welchs_test() -> None:
    rnd = random.Random(11)
    for _ in range(200):
        one = [rnd.gauss(40, 2) for _ in range(rnd.randint(3, 8))]
        other = [rnd.gauss(41, 4) for _ in range(rnd.randint(3, 8))]
        found = difference(mean_of(one, [0] * len(one)), mean_of(other, [0] * len(other)))
        reference = stats.ttest_ind(other, one, equal_var=False).confidence_interval(0.95)
        middle, half = (reference.low + reference.high) / 2, (reference.high - reference.low) / 2
        assert found.value == pytest.approx(middle)
        # Degrees of freedom are rounded down here, so it may be wider, never narrower.
        assert half * 0.999 <= found.half_width <= half * 1.6


def test_with_noise_alone_it_is_the_normal_interval() -> None:
    found = difference(Mean(10, 4, 0.0, 2.0), Mean(12, 4, 0.0, 2.0))
    expected = stats.norm.ppf(0.975) * math.sqrt(2 * 4 * (COMMON_SHARE + (1 - COMMON_SHARE) / 4))
    assert found.half_width == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("common_share", [0.0, 0.5])
def test_nothing_changed_leaves_its_interval_at_most_once_in_twenty(common_share: float) -> None:
    rnd = random.Random(20260610)
    noise, spread, trials = 3.0, 2.0, 3000

    def session() -> Mean:
        shared = rnd.gauss(0, noise * math.sqrt(common_share))
        own = noise * math.sqrt(1 - common_share)
        values = [30 + shared + rnd.gauss(0, spread) + rnd.gauss(0, own) for _ in range(3)]
        return mean_of(values, [noise] * 3)

    found = [difference(session(), session()) for _ in range(trials)]
    assert sum(abs(each.value) > each.half_width for each in found) / trials <= 0.05


def test_smallest_detectable_change() -> None:
    # Worked by hand: 1.96 x sqrt(2) x 2.0 = 5.54.
    assert smallest_detectable(2.0, 2.0) == pytest.approx(5.54, abs=0.005)
    rnd = random.Random(3)
    least = smallest_detectable(2.0, 3.0)
    beyond = sum(abs(rnd.gauss(0, 2.0) - rnd.gauss(0, 3.0)) > least for _ in range(20000))
    assert beyond / 20000 == pytest.approx(0.05, abs=0.006)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: mean_of([], []), "at least one"),
        (lambda: mean_of([1.0], [1.0, 2.0]), "as many"),
        (lambda: mean_of([math.nan], [1.0]), "finite"),
        (lambda: mean_of([1.0], [-1.0]), "not negative"),
        (lambda: t_975(0.5), "df must be at least 1, got 0.5"),
        (lambda: smallest_detectable(-1.0, 1.0), "se_before must be finite and at least 0, got -1.0"),
    ],
)
def test_wrong_numbers_are_refused(wrong: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        wrong()  # type: ignore[operator]
