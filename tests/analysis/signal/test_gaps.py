"""Short gaps are bridged, long ones stay unknown."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.signal.gaps import bridge, fill_all, runs
from analysis.signal.smooth import derivative, smooth_track

T = np.arange(30) / 60


def _line_without(*missing: int) -> np.ndarray:
    x = np.stack([2 * T, 1 - T], axis=1)
    x[list(missing)] = np.nan
    return x


def test_three_frames_at_60_fps_are_bridged_exactly() -> None:
    np.testing.assert_allclose(bridge(T, _line_without(10, 11, 12)), _line_without(), atol=1e-12)


def test_four_frames_stay_unknown() -> None:
    out = bridge(T, _line_without(10, 11, 12, 13))
    assert np.isnan(out[10:14]).all()
    assert np.isfinite(np.delete(out, slice(10, 14), axis=0)).all()


def test_ends_are_never_invented() -> None:
    out = bridge(T, _line_without(0, 29))
    assert np.isnan(out[[0, 29]]).all()


def test_lengths_must_agree() -> None:
    with pytest.raises(ValueError, match="equal length"):
        bridge(T[:-1], _line_without())


def test_runs_and_fill_all() -> None:
    assert runs(np.array([False, True, True, False, True])) == [(1, 3), (4, 5)]
    np.testing.assert_allclose(fill_all(np.array([[np.nan], [1.0], [np.nan], [3.0]]))[:, 0], [1, 1, 2, 3])


def test_smoothing_uneven_times_keeps_a_line_and_its_gap() -> None:
    t = np.delete(np.arange(60) / 60, [20, 21, 41])
    x = np.stack([4 * t, 2 - t], axis=1)
    x[30:36] = np.nan
    out = smooth_track(t, x, 8.0)
    assert np.isnan(out[30:36]).all()
    known = np.delete(np.arange(len(t)), slice(30, 36))
    np.testing.assert_allclose(out[known], np.stack([4 * t, 2 - t], axis=1)[known], atol=1e-5)


def test_derivative_of_a_parabola() -> None:
    np.testing.assert_allclose(derivative(T, T**2)[1:-1], 2 * T[1:-1], atol=1e-12)


def test_what_is_seen_often_for_a_short_time_keeps_its_height() -> None:
    """Most of the track comes 20 times a second, a quick stretch of it 60: its wave of 6 Hz is not smoothed away."""
    t = np.concatenate([np.arange(0, 2, 0.05), np.arange(2, 2.6, 1 / 60), np.arange(2.6, 3.4, 0.05)])
    wave = np.where((t >= 2) & (t < 2.6), np.sin(2 * np.pi * 6 * (t - 2)), 0.0)
    out = smooth_track(t, wave[:, None], 12.0)[:, 0]
    near = (t > 2.1) & (t < 2.5)
    assert np.abs(out[near] - wave[near]).max() < 0.15
