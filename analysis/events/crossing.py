"""Sub-frame times at which a curve crosses zero, peaks, or starts from rest."""

from __future__ import annotations

import numpy as np

from analysis.types import Floats


def crossing(t_s: Floats, y: Floats, near_s: float, start_s: float, end_s: float) -> float | None:
    """The zero crossing of ``y`` in [start_s, end_s] nearest to ``near_s``, by straight lines.

    Parameters
    ----------
    t_s, y : ndarray of shape (T,)
        NaN in ``y`` is skipped.
    near_s, start_s, end_s : float
        Seconds.

    Returns
    -------
    float or None
        None when the curve does not cross there.
    """
    keep = (t_s >= start_s) & (t_s <= end_s) & np.isfinite(y)
    t, v = t_s[keep], y[keep]
    found = [
        float(t[i] - v[i] * (t[i + 1] - t[i]) / (v[i + 1] - v[i]))
        for i in range(len(v) - 1)
        if v[i] != v[i + 1] and v[i] * v[i + 1] <= 0
    ]
    return min(found, key=lambda s: abs(s - near_s)) if found else None


def peak(t_s: Floats, y: Floats, start_s: float, end_s: float) -> float | None:
    """Time of the highest value in [start_s, end_s], refined by a parabola through three samples."""
    inside = np.flatnonzero((t_s >= start_s) & (t_s <= end_s) & np.isfinite(y))
    if inside.size == 0:
        return None
    i = int(inside[np.argmax(y[inside])])
    if not 0 < i < len(y) - 1 or not np.isfinite(y[i - 1 : i + 2]).all():
        return float(t_s[i])
    a, b, c = y[i - 1], y[i], y[i + 1]
    bend = a - 2 * b + c
    step = float(t_s[i + 1] - t_s[i - 1]) / 2
    shift = 0.0 if bend >= 0 else float(np.clip(0.5 * (a - c) / bend, -1, 1))
    return float(t_s[i]) + shift * step


def onset(t_s: Floats, moved: Floats, limit: float) -> float | None:
    """Time at which something at rest began to move.

    Fits rest followed by uniform acceleration, ``moved = a (t - t0)^2``, to the samples up to the first
    that stays beyond ``limit``, by least squares over t0.

    Parameters
    ----------
    t_s, moved : ndarray of shape (T,)
        Distance from the resting place, never negative; NaN is skipped.
    limit : float
        Distance up to which the start is fitted.
    """
    good = np.isfinite(moved)
    t, s = t_s[good], moved[good]
    beyond = np.flatnonzero((s[:-1] > limit) & (s[1:] > limit))
    if beyond.size == 0 or beyond[0] < 3:
        return None
    t, s = t[: beyond[0] + 1], s[: beyond[0] + 1]
    step = float(np.median(np.diff(t)))
    best, best_cost = None, np.inf
    for start in np.arange(max(t[0] + step, t[-1] - 0.6), t[-1] - 1.5 * step, step / 10):
        shape = np.clip(t - start, 0, None) ** 2
        fit = float(shape @ s / (shape @ shape)) * shape
        cost = float(np.abs(s - fit).sum())
        if cost < best_cost:
            best, best_cost = float(start), cost
    return best
