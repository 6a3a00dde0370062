"""The comparison of two range days against an independent statistics library, and against its own promise: where
nothing changed, at most one comparison in twenty may say "changed"."""

from __future__ import annotations

import math
import random

import pytest
from scipy import stats

from coachhub.progress.domain.noise import COMMON_SHARE, Mean, difference, mean_of, t_975

pytestmark = pytest.mark.unit


@pytest.mark.parametrize("df", [*range(1, 31), 40, 50, 60, 80, 100])
def test_the_table_of_t_is_students(df: int) -> None:
    assert t_975(df) == pytest.approx(stats.t.ppf(0.975, df), abs=6e-4)


@pytest.mark.parametrize("df", [1.7, 2.99, 30.5, 35, 59, 1000])
def test_between_rows_the_interval_is_never_too_narrow(df: float) -> None:
    assert t_975(df) >= stats.t.ppf(0.975, df) - 6e-4
    assert t_975(math.inf) == pytest.approx(stats.norm.ppf(0.975), abs=1e-3)


def test_without_measurement_noise_it_is_welchs_test() -> None:
    rnd = random.Random(7)
    for _ in range(200):
        one = [rnd.gauss(40, 2) for _ in range(rnd.randint(3, 8))]
        other = [rnd.gauss(41, 4) for _ in range(rnd.randint(3, 8))]
        found = difference(mean_of(one, [0] * len(one)), mean_of(other, [0] * len(other)))
        reference = stats.ttest_ind(other, one, equal_var=False).confidence_interval(0.95)
        middle, half = (reference.low + reference.high) / 2, (reference.high - reference.low) / 2
        assert found.value == pytest.approx(middle)
        # Ours rounds the degrees of freedom down, so it may be wider, never narrower.
        assert half * 0.999 <= found.half_width <= half * 1.6


def test_with_noise_alone_it_is_the_normal_interval() -> None:
    a, b = Mean(10, 4, 0.0, 2.0), Mean(12, 4, 0.0, 2.0)
    expected = 1.96 * math.sqrt(2 * 4 * (COMMON_SHARE + (1 - COMMON_SHARE) / 4))
    assert difference(a, b).half_width == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("swings", [3, 5])
@pytest.mark.parametrize("common_share", [0.0, 0.5])
def test_nothing_changed_is_called_changed_at_most_once_in_twenty(swings: int, common_share: float) -> None:
    rnd = random.Random(20260610)
    noise, spread, trials = 3.0, 2.0, 4000

    def day() -> Mean:
        shared = rnd.gauss(0, noise * math.sqrt(common_share))
        own = noise * math.sqrt(1 - common_share)
        values = [30 + shared + rnd.gauss(0, spread) + rnd.gauss(0, own) for _ in range(swings)]
        return mean_of(values, [noise] * swings)

    false_claims = sum(difference(day(), day()).is_change for _ in range(trials))
    assert false_claims / trials <= 0.05


def test_a_large_change_is_seen() -> None:
    before = mean_of([30, 31, 29, 30], [2.0] * 4)
    after = mean_of([45, 46, 44, 45], [2.0] * 4)
    assert difference(before, after).is_change
    assert difference(before, after).value == pytest.approx(15)


@pytest.mark.parametrize("few", [1, 2])
def test_fewer_than_three_swings_claim_nothing(few: int) -> None:
    before = mean_of([30.0] * few, [0.1] * few)
    after = mean_of([60.0] * 5, [0.1] * 5)
    for pair in ((before, after), (after, before)):
        found = difference(*pair)
        assert not found.enough
        assert not found.is_change


def test_a_single_swing_has_no_spread() -> None:
    one = mean_of([30.0], [2.0])
    assert one.spread is None
    assert one.half_width == pytest.approx(3.92)


@pytest.mark.parametrize(
    ("values", "errors"),
    [([], []), ([1.0], []), ([1.0], [-1.0]), ([math.nan], [1.0]), ([1.0], [math.inf])],
)
def test_odd_input_is_refused(values: list[float], errors: list[float]) -> None:
    with pytest.raises(ValueError, match="values"):
        mean_of(values, errors)
