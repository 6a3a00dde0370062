"""Low-pass for real tracks: uneven times, gaps and all."""

from __future__ import annotations

import numpy as np

from analysis.signal.butterworth import low_pass
from analysis.signal.gaps import bridge, fill_all
from analysis.types import Floats


def smooth_track(t_s: Floats, x: Floats, cutoff_hz: float) -> Floats:
    """Bridge short gaps, low-pass, and put long gaps back.

    Parameters
    ----------
    t_s : ndarray of shape (T,)
        Rising times in seconds; may be uneven.
    x : ndarray of shape (T, D)
        NaN where missing.
    cutoff_hz : float
        Lowered to 0.4 of the rate where the rate is too low for it.

    Returns
    -------
    ndarray of shape (T, D)
        NaN in gaps longer than 50 ms and before the first or after the last value.
    """
    known = np.isfinite(bridge(t_s, x)).all(1)
    if t_s.size < 4 or not known.any():
        return x.astype(float).copy()
    # Poses come less often where the golfer is slow; what is quick must not be read at that rate.
    rate_hz = 1 / float(np.quantile(np.diff(t_s), 0.25))
    grid = t_s[0] + np.arange(round((t_s[-1] - t_s[0]) * rate_hz) + 1) / rate_hz
    filled = fill_all(x)
    even = np.stack([np.interp(grid, t_s, column) for column in filled.T], axis=1)
    smooth = low_pass(even, rate_hz, min(cutoff_hz, 0.4 * rate_hz))
    out = np.stack([np.interp(t_s, grid, column) for column in smooth.T], axis=1)
    out[~known] = np.nan
    return out


def derivative(t_s: Floats, x: Floats) -> Floats:
    """Central difference of (T, ...) over rising times (T,), per second; one-sided at the ends."""
    if x.shape[0] < 2:
        return np.zeros_like(x, dtype=float)
    return np.asarray(np.gradient(x, t_s, axis=0), dtype=float)
