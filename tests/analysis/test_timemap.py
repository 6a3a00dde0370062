"""The time map between two swings: rising, invertible, and true to the shared events."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.timemap import time_map
from analysis.types import EVENTS, EventTime
from tests.analysis.conftest import truth_tracks

pytestmark = pytest.mark.unit

steps = st.lists(st.floats(0.02, 1.5), min_size=len(EVENTS), max_size=len(EVENTS))


def events(times: dict[str, float], se_s: float = 0.004) -> dict[str, EventTime]:
    return {name: EventTime(t, se_s, "test") for name, t in times.items()}


def at(values: list[float]) -> dict[str, EventTime]:
    return events(dict(zip(EVENTS, np.cumsum(values), strict=True)))


@given(one=steps, other=steps, gone=st.sets(st.sampled_from(EVENTS), max_size=8))
def test_the_map_rises_inverts_and_meets_the_shared_events(
    one: list[float], other: list[float], gone: set[str]
) -> None:
    first = at(one)
    second = {name: event for name, event in at(other).items() if name not in gone}
    found = time_map(first, second)
    assert found.events == tuple(name for name in EVENTS if name in second)
    assert set(found.left_out) == gone
    for name in found.events:
        assert found.to_second(np.array([first[name].t_s])) == pytest.approx([second[name].t_s])
    times = np.linspace(-3, 25, 400)
    there = found.to_second(times)
    assert (np.diff(there) > 0).all()
    assert found.to_first(there) == pytest.approx(times, abs=1e-9)


def test_between_events_the_map_is_straight() -> None:
    first = events({"top": 1.0, "impact": 1.25, "finish": 2.25})
    second = events({"top": 3.0, "impact": 4.0, "finish": 6.0})
    found = time_map(first, second)
    assert found.to_second(np.array([1.125, 1.75])) == pytest.approx([3.5, 5.0])
    # Outside, at the pace of the whole: 3 s for 1.25 s.
    assert found.pace == pytest.approx(2.4)
    assert found.to_second(np.array([0.5, 2.75])) == pytest.approx([1.8, 7.2])


def test_a_slowed_copy_of_a_rendered_swing_maps_onto_itself() -> None:
    """A file played at a quarter of the speed is the same swing with all times four times as far apart."""
    _, known = truth_tracks("fo_none")
    slow = {name: EventTime(4 * event.t_s + 2, 4 * event.se_s, event.rule) for name, event in known.items()}
    found = time_map(known, slow)
    times = np.linspace(0, 3, 50)
    assert found.to_second(times) == pytest.approx(4 * times + 2)
    assert len(found.events) == len(known)


def test_of_two_events_out_of_order_the_less_certain_is_left_out() -> None:
    first = events({"takeaway": 1.0, "top": 1.8, "impact": 2.1})
    second = {
        "takeaway": EventTime(2.05, 0.2, "wide"),
        "top": EventTime(2.0, 0.004, "sure"),
        "impact": EventTime(2.3, 0.004, "sure"),
    }
    found = time_map(first, second)
    assert (found.events, found.left_out) == (("top", "impact"), ("takeaway",))
    assert time_map(second, first).events == found.events


def test_an_event_without_a_time_is_missing() -> None:
    first = events({"takeaway": 1.0, "top": 1.8, "impact": 2.1})
    second = events({"takeaway": 1.0, "top": float("nan"), "impact": 2.1})
    assert time_map(first, second).events == ("takeaway", "impact")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({"top": 1.0, "impact": 1.3}, {"top": 1.0}),
        ({"top": 1.0, "impact": 1.3}, {"takeaway": 1.0, "finish": 2.0}),
        ({"top": 1.0, "impact": 1.3}, {"top": 1.0, "impact": 1.0}),
        ({}, {}),
    ],
)
def test_fewer_than_two_shared_events_are_refused(one: dict[str, float], other: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="at least two events"):
        time_map(events(one), events(other))


def test_an_unknown_event_is_refused() -> None:
    with pytest.raises(ValueError, match="'start'"):
        time_map(events({"start": 1.0}), {})
