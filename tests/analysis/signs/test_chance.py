"""What must hold of a sign's chance whatever the numbers are."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import norm

from analysis.signs.chance import pooled, term_chance

numbers = st.floats(-200, 200)
errors = st.floats(0, 60)
weights = st.floats(0.1, 3)
chances = st.floats(0.005, 0.995)
zones = st.tuples(numbers, numbers).filter(lambda zone: abs(zone[0] - zone[1]) > 0.5)


@given(numbers, errors, zones)
def test_it_is_the_normal_tail_of_the_difference(value: float, se: float, grey: tuple[float, float]) -> None:
    # Against scipy: value ~ N(value, se), line ~ N(middle, sd) with 90 % of it inside the zone.
    sd = abs(grey[1] - grey[0]) / (2 * norm.ppf(0.95))
    beyond = (value - sum(grey) / 2) * math.copysign(1, grey[1] - grey[0])
    expected = min(0.995, max(0.005, float(norm.cdf(beyond / math.hypot(se, sd)))))
    assert term_chance(value, se, grey) == pytest.approx(expected, abs=1e-4)


@given(numbers, numbers, errors, zones)
def test_it_rises_with_the_number(a: float, b: float, se: float, grey: tuple[float, float]) -> None:
    low, high = sorted((a, b), reverse=grey[0] > grey[1])
    assert term_chance(low, se, grey) <= term_chance(high, se, grey)


@given(numbers, errors, errors, zones)
def test_a_wider_error_is_never_surer(value: float, a: float, b: float, grey: tuple[float, float]) -> None:
    sharp, blurred = sorted((a, b))
    assert abs(term_chance(value, blurred, grey) - 0.5) <= abs(term_chance(value, sharp, grey) - 0.5) + 1e-12


@given(numbers, errors, zones)
def test_mirrored_numbers_have_the_same_chance(value: float, se: float, grey: tuple[float, float]) -> None:
    assert term_chance(-value, se, (-grey[0], -grey[1])) == pytest.approx(term_chance(value, se, grey))


@given(st.lists(st.tuples(weights, chances), min_size=1, max_size=5), weights, st.floats(0.5, 0.995))
def test_an_added_confirming_term_never_lowers_it(
    terms: list[tuple[float, float]], weight: float, chance: float
) -> None:
    assert pooled([*terms, (weight, chance)]) >= pooled(terms) - 1e-12


@given(st.lists(st.tuples(weights, chances), min_size=1, max_size=5), weights, st.floats(0.005, 0.5))
def test_an_added_contradicting_term_never_raises_it(
    terms: list[tuple[float, float]], weight: float, chance: float
) -> None:
    assert pooled([*terms, (weight, chance)]) <= pooled(terms) + 1e-12


@given(st.lists(st.tuples(weights, chances), min_size=1, max_size=5))
def test_the_order_of_terms_does_not_matter(terms: list[tuple[float, float]]) -> None:
    turned = list(reversed(terms))
    assert pooled(turned) == pytest.approx(pooled(terms))


@given(chances)
def test_one_term_of_weight_one_speaks_for_itself(chance: float) -> None:
    assert pooled([(1.0, chance)]) == pytest.approx(chance)


def test_nothing_measured_is_even() -> None:
    assert pooled([]) == 0.5


@given(zones, errors)
def test_the_middle_of_the_zone_is_even(grey: tuple[float, float], se: float) -> None:
    assert term_chance(sum(grey) / 2, se, grey) == pytest.approx(0.5, abs=1e-9)


@given(zones)
def test_exactly_measured_ends_of_the_zone_are_one_in_twenty(grey: tuple[float, float]) -> None:
    assume(abs(grey[0] - grey[1]) > 1)
    assert term_chance(grey[0], 0, grey) == pytest.approx(0.05, abs=1e-4)
    assert term_chance(grey[1], 0, grey) == pytest.approx(0.95, abs=1e-4)


def test_impossible_numbers_are_refused() -> None:
    with pytest.raises(ValueError, match="se must be"):
        term_chance(1, -0.1, (0, 1))
    with pytest.raises(ValueError, match="grey must be"):
        term_chance(1, 0.1, (2, 2))
    with pytest.raises(ValueError, match="weight must be"):
        pooled([(0, 0.5)])
    with pytest.raises(ValueError, match="chance must"):
        pooled([(1, 1.0)])
