"""Smooth tracks through key values: monotone cubic pieces, then a narrow Gaussian."""

from __future__ import annotations

import numpy as np

from analysis.types import Floats

RATE_HZ = 1000.0
SMOOTH_SAMPLES = 14.0


def monotone_cubic(t: Floats, v: Floats, at: Floats) -> Floats:
    """Monotone piecewise cubic interpolation (Fritsch & Butland 1984 slopes, as in PCHIP).

    Parameters
    ----------
    t, v : ndarray of shape (K,)
        Rising times and values, K >= 2.
    at : ndarray
        Times within ``t``; outside, the end value holds.

    Raises
    ------
    ValueError
        If the times do not rise strictly or there are fewer than two.
    """
    if t.size < 2 or t.shape != v.shape or not bool((np.diff(t) > 0).all()):
        raise ValueError("t must hold at least two strictly rising times, one for each value")
    step = np.diff(t)
    slope = np.diff(v) / step
    at = np.clip(at, t[0], t[-1])
    k = np.clip(np.searchsorted(t, at, side="right") - 1, 0, len(step) - 1)
    d = _key_slopes(step, slope)
    x = (at - t[k]) / step[k]
    h00, h10 = (1 + 2 * x) * (1 - x) ** 2, x * (1 - x) ** 2
    h01, h11 = x * x * (3 - 2 * x), x * x * (x - 1)
    return np.asarray(h00 * v[k] + h10 * step[k] * d[k] + h01 * v[k + 1] + h11 * step[k] * d[k + 1])


def _key_slopes(step: Floats, slope: Floats) -> Floats:
    if slope.size == 1:
        return np.repeat(slope, 2)
    w1, w2 = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        inner = (w1 + w2) / (w1 / slope[:-1] + w2 / slope[1:])
    same_way = np.sign(slope[:-1]) * np.sign(slope[1:]) > 0
    inner = np.where(same_way, inner, 0.0)
    first = _end_slope(step[0], step[1], slope[0], slope[1])
    last = _end_slope(step[-1], step[-2], slope[-1], slope[-2])
    return np.concatenate([[first], inner, [last]])


def _end_slope(h0: float, h1: float, s0: float, s1: float) -> float:
    d = ((2 * h0 + h1) * s0 - h0 * s1) / (h0 + h1)
    if np.sign(d) != np.sign(s0):
        return 0.0
    return float(3 * s0) if np.sign(s0) != np.sign(s1) and abs(d) > 3 * abs(s0) else float(d)


def gaussian(values: Floats, sigma: float) -> Floats:
    """Gaussian smoothing of a track (N,); the ends are held; ``sigma`` in samples."""
    reach = int(4 * sigma + 0.5)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    kernel /= kernel.sum()
    return np.convolve(np.pad(values, reach, mode="edge"), kernel, mode="valid")


def dense(keys: list[tuple[float, float]], t_s: Floats) -> Floats:
    """A key track at the times ``t_s``, which are ``RATE_HZ`` apart."""
    t, v = (np.array([key[i] for key in keys], float) for i in (0, 1))
    return gaussian(monotone_cubic(t, v, t_s), SMOOTH_SAMPLES)
