from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.bench.labels import truth_of_sign
from analysis.bench.reliability import EDGES, Bin, bins, brier
from analysis.signs.evaluate import LIKELY_P, POSSIBLE_P

judgements = st.lists(st.tuples(st.floats(0, 1), st.booleans()), min_size=1, max_size=60)


@given(judgements)
def test_every_judgement_lies_in_one_bin(judged: list[tuple[float, bool]]) -> None:
    found = bins(judged)
    assert sum(one.count for one in found) == len(judged)
    assert sum(one.there for one in found) == sum(there for _, there in judged)
    assert all(one.low <= one.mean_p <= one.high for one in found)


def test_levels_begin_at_bin_borders() -> None:
    assert {POSSIBLE_P, LIKELY_P} <= set(EDGES)
    assert [(b.low, b.count) for b in bins([(POSSIBLE_P, True), (LIKELY_P, True), (1.0, True)])] == [
        (0.3, 1),
        (0.75, 1),
        (0.95, 1),
    ]


def test_the_interval_is_wilsons() -> None:
    # Worked by hand from Wilson (1927) with z = 1.96: 8 of 10 gives 0.490..0.943, 0 of 10 gives 0..0.278.
    assert Bin(0, 1, 10, 0.5, 8).interval() == pytest.approx((0.4902, 0.9433), abs=1e-4)
    assert Bin(0, 1, 10, 0.5, 0).interval() == pytest.approx((0.0, 0.2775), abs=1e-4)


def test_the_brier_score_of_knowing_nothing_and_of_knowing_all() -> None:
    assert brier([(0.5, True), (0.5, False)]) == 0.25
    assert brier([(1.0, True), (0.0, False)]) == 0
    with pytest.raises(ValueError, match="empty"):
        brier([])
    with pytest.raises(ValueError, match="chances"):
        bins([(1.2, True)])


@pytest.mark.parametrize(
    ("fault", "amount", "key", "there"),
    [
        ("sway", 0.8, "sway", True),
        ("sway", 0.2, "sway", False),
        ("sway", 0.5, "sway", None),
        ("sway", 1.0, "slide", None),
        ("none", 1.0, "sway", False),
        ("steep", 1.0, "steep_plane", True),
    ],
)
def test_what_counts_as_there(fault: str, amount: float, key: str, there: bool | None) -> None:
    assert truth_of_sign({"fault": fault, "amount": amount}, key) is there
