"""Missing values: short gaps are bridged, long ones stay unknown."""

from __future__ import annotations

import numpy as np

from analysis.types import Floats

MAX_GAP_S = 0.05  # common practice, no study


def runs(mask: np.ndarray) -> list[tuple[int, int]]:
    """Half-open index ranges ``(start, stop)`` in which ``mask`` (T,) is True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(int), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def bridge(t_s: Floats, x: Floats, max_gap_s: float = MAX_GAP_S) -> Floats:
    """Fill inner gaps up to ``max_gap_s`` by straight lines; longer ones and the ends stay NaN.

    Parameters
    ----------
    t_s : ndarray of shape (T,)
    x : ndarray of shape (T, D)
        NaN where missing.
    max_gap_s : float
        Longest bridged time without a value, seconds (frame before to frame after).

    Returns
    -------
    ndarray of shape (T, D), a copy

    Raises
    ------
    ValueError
        If the lengths differ.
    """
    if t_s.shape[0] != x.shape[0]:
        raise ValueError(f"t_s and x must have equal length, got {t_s.shape[0]} and {x.shape[0]}")
    out = x.astype(float).copy()
    missing = ~np.isfinite(out).all(1)
    for start, stop in runs(missing):
        if start == 0 or stop == len(t_s):
            continue
        before, after = start - 1, stop
        frame_s = float(np.median(np.diff(t_s)))
        if t_s[after] - t_s[before] - frame_s > max_gap_s + 1e-9:
            continue
        for d in range(out.shape[1]):
            out[start:stop, d] = np.interp(t_s[start:stop], t_s[[before, after]], out[[before, after], d])
    return out


def fill_all(x: Floats) -> Floats:
    """Every NaN of (T, D) filled by interpolation and edge values; all-NaN columns become 0."""
    out = x.astype(float).copy()
    index = np.arange(out.shape[0])
    for d in range(out.shape[1]):
        good = np.isfinite(out[:, d])
        out[:, d] = np.interp(index, index[good], out[good, d]) if good.any() else 0.0
    return out
