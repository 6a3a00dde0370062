"""What must not change a readout, and what must change it in a known way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analysis.metrics.aim import FOCAL
from analysis.metrics.registry import ALL
from analysis.readout import SwingReadout
from tests.analysis.changes import NAMES, later, read, scaled, shifted, slowed, stored_swing
from tests.analysis.mirror import mirrored

# A readout takes some 0.1 s; a few draws say enough about a smooth change.
few = settings(max_examples=5, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
OF_TIME = {row.name for row in ALL if row.kind == "time"}
names = pytest.mark.parametrize("name", NAMES)
_BEFORE: dict[str, SwingReadout] = {}


def unchanged(name: str) -> SwingReadout:
    """Readout of the stored swing as it is."""
    if name not in _BEFORE:
        _BEFORE[name] = read(stored_swing(name))
    return _BEFORE[name]


def assert_same_numbers(
    after: SwingReadout, before: SwingReadout, *, draws_differ: bool = False, but: str = ""
) -> None:
    """The same metrics with the same values, and the same signs at the same level.

    Values agree within a tenth of their standard error. ``draws_differ``: the noise that standard errors come from
    is drawn for other joints, so that these agree within a third only. ``but`` is a metric to leave out.
    """
    for key, metric in before.metrics.items():
        if key == but:
            continue
        other = after.metrics[key]
        assert (metric.value is None) == (other.value is None), (key, metric.reason, other.reason)
        if metric.value is None or metric.se is None:
            continue
        near = 0.1 * metric.se + 1e-6
        assert other.value == pytest.approx(metric.value, abs=near), key
        assert other.se == pytest.approx(metric.se, rel=0.33 if draws_differ else 0.1, abs=1e-6), key
    for key, sign in before.signs.items():
        if sign.p is not None and min(abs(sign.p - edge) for edge in (0.25, 0.3, 0.5, 0.6, 0.7)) > 0.05:
            assert after.signs[key].level == sign.level, key


def assert_same_times(
    after: SwingReadout, before: SwingReadout, *, times: float = 1.0, plus: float = 0.0
) -> None:
    """The same events, at ``times * t + plus``, within a tenth of a frame."""
    assert list(after.events) == list(before.events)
    for key, event in before.events.items():
        near = 0.1 * times / before.fps
        assert after.events[key].t_s == pytest.approx(times * event.t_s + plus, abs=near), key
        assert after.events[key].se_s == pytest.approx(times * event.se_s, rel=0.1), key


def test_the_stored_swings_are_worth_testing_with() -> None:
    for name in NAMES:
        readout = unchanged(name)
        assert len(readout.events) >= 6
        assert sum(m.value is not None for m in readout.metrics.values()) >= 10


@names
@few
@given(factor=st.floats(0.4, 2.5))
def test_a_larger_picture_gives_the_same_readout(name: str, factor: float) -> None:
    after = read(scaled(stored_swing(name), factor))
    assert_same_times(after, unchanged(name))
    assert_same_numbers(after, unchanged(name))


@names
@few
@given(dx=st.floats(-300, 300), dy=st.floats(-300, 300))
def test_another_place_in_the_picture_gives_the_same_readout(name: str, dx: float, dy: float) -> None:
    """But for the line of the feet: its zero is the line that the phone looks along, which goes through the middle."""
    before, after = unchanged(name), read(shifted(stored_swing(name), dx, dy))
    assert_same_times(after, before)
    assert_same_numbers(after, before, but="feet_line_address")
    lines = [readout.metrics["feet_line_address"].value for readout in (before, after) if "dtl" in name]
    if lines:
        then, now = (np.tan(np.radians(line or np.nan)) for line in lines)
        assert now - then == pytest.approx(dx / (FOCAL * before.tracks.pose.height), abs=0.02)


@names
@few
@given(seconds=st.floats(0, 50))
def test_a_later_swing_gives_the_same_readout(name: str, seconds: float) -> None:
    after = read(later(stored_swing(name), seconds))
    assert_same_times(after, unchanged(name), plus=seconds)
    assert_same_numbers(after, unchanged(name))


@names
def test_the_mirrored_swing_is_the_other_hands_swing(name: str) -> None:
    after = read(mirrored(stored_swing(name)))
    assert after.tracks.handedness == "left"
    assert_same_times(after, unchanged(name))
    assert_same_numbers(after, unchanged(name), draws_differ=True)


@names
@few
@given(factor=st.floats(1.6, 8))
def test_slow_motion_stretches_the_times_and_withholds_them(name: str, factor: float) -> None:
    """Angles stay, what is made of times is left out: nobody knows the true pace, nor that it is an even one."""
    before, after = unchanged(name), read(slowed(stored_swing(name), factor))
    assert_same_times(after, before, times=factor)
    for key, metric in before.metrics.items():
        if key in OF_TIME:
            assert after.metrics[key].value is None, key
        elif metric.value is not None and metric.se is not None:
            assert after.metrics[key].value == pytest.approx(metric.value, abs=0.1 * metric.se + 1e-6), key


@names
@few
@given(factor=st.floats(1.6, 8))
def test_slow_motion_by_the_files_own_word_gives_the_true_seconds(name: str, factor: float) -> None:
    before, after = unchanged(name), read(replace(slowed(stored_swing(name), factor), is_timed=True))
    assert_same_times(after, before, times=factor)
    timed = [key for key in OF_TIME if before.metrics[key].value is not None]
    assert timed
    for key in timed:
        then, now = before.metrics[key], after.metrics[key]
        assert now.value == pytest.approx(then.value, abs=0.15 * then.se + 1e-6), key
        assert now.se == pytest.approx(then.se, rel=0.33), key


@names
@few
@given(factor=st.floats(1.02, 1.4))
def test_a_pace_within_the_usual_reads_the_same_angles_and_the_true_seconds(name: str, factor: float) -> None:
    """Up to half slower the clip's word is taken; times come out in seconds of the swing."""
    before, after = unchanged(name), read(slowed(stored_swing(name), factor))
    assert_same_times(after, before, times=factor)
    assert_same_numbers(after, before)
