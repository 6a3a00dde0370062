"""The low-pass against the analytic Butterworth magnitude and against SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter

from analysis.signal.butterworth import DOUBLE_PASS_FACTOR, coefficients, low_pass


def _kept(frequency_hz: float, cutoff_hz: float, rate_hz: float = 240.0) -> float:
    t = np.arange(0, 6, 1 / rate_hz)
    wave = np.sin(2 * np.pi * frequency_hz * t)
    middle = slice(len(t) // 4, 3 * len(t) // 4)
    out = low_pass(wave[:, None], rate_hz, cutoff_hz)[:, 0][middle]
    # Least-squares amplitude at the frequency itself.
    basis = np.stack([np.sin(2 * np.pi * frequency_hz * t), np.cos(2 * np.pi * frequency_hz * t)], 1)[middle]
    return float(np.hypot(*np.linalg.lstsq(basis, out, rcond=None)[0]))


@pytest.mark.parametrize("frequency_hz", [1.0, 3.0, 6.0, 9.0, 15.0, 25.0])
@pytest.mark.parametrize("cutoff_hz", [6.0, 10.0, 14.0])
def test_kept_amplitude_is_the_analytic_one(frequency_hz: float, cutoff_hz: float) -> None:
    # Two passes of a second-order Butterworth: |H|^2 = 1 / (1 + (w / wc)^4), bilinear frequencies prewarped.
    rate_hz = 240.0
    warped = np.tan(np.pi * np.array([frequency_hz, cutoff_hz / DOUBLE_PASS_FACTOR]) / rate_hz)
    assert _kept(frequency_hz, cutoff_hz) == pytest.approx(1 / (1 + (warped[0] / warped[1]) ** 4), abs=2e-3)


@pytest.mark.parametrize("cutoff_hz", [6.0, 10.0, 14.0])
def test_the_stated_cutoff_is_the_minus_3_db_point_of_the_whole(cutoff_hz: float) -> None:
    # 0.802 = (sqrt(2) - 1) ** (1 / 4): correction for a double pass, Winter (2009), from memory. The small rest is
    # the bilinear warping of the correction.
    assert _kept(cutoff_hz, cutoff_hz) == pytest.approx(1 / np.sqrt(2), abs=0.01)


@pytest.mark.parametrize(("cutoff_hz", "rate_hz"), [(6.0, 60.0), (10.0, 60.0), (12.0, 240.0), (20.0, 120.0)])
def test_coefficients_equal_scipys(cutoff_hz: float, rate_hz: float) -> None:
    b, a = coefficients(cutoff_hz, rate_hz)
    b_ref, a_ref = butter(2, cutoff_hz, fs=rate_hz)
    np.testing.assert_allclose(b, b_ref, rtol=1e-10)
    np.testing.assert_allclose(a, a_ref, rtol=1e-10)


def test_no_lag_and_no_change_of_a_straight_line() -> None:
    t = np.arange(120) / 60
    line = np.stack([3 + 5 * t, -2 * t], axis=1)
    # The start-up of the first pass fades over the padding of a quarter second, to some 2e-6.
    np.testing.assert_allclose(low_pass(line, 60.0, 8.0), line, atol=1e-5)


def test_input_is_not_changed() -> None:
    x = np.random.default_rng(1).normal(size=(50, 2))
    before = x.copy()
    low_pass(x, 60.0, 10.0)
    np.testing.assert_array_equal(x, before)


@pytest.mark.parametrize("cutoff_hz", [0.0, -1.0, 25.0])
def test_a_cutoff_out_of_range_is_refused(cutoff_hz: float) -> None:
    with pytest.raises(ValueError, match=r"cutoff_hz must be in \(0, 24\]"):
        low_pass(np.zeros((20, 1)), 60.0, cutoff_hz)


def test_gaps_must_be_filled_first() -> None:
    x = np.zeros((20, 1))
    x[4] = np.nan
    with pytest.raises(ValueError, match="finite"):
        low_pass(x, 60.0, 6.0)
