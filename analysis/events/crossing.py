"""Sub-frame times at which a curve crosses zero, peaks, or starts from rest."""

from __future__ import annotations

import numpy as np

from analysis.types import Floats

# A clubhead is found to about this share of the standing height in still frames (rendered bench).
LEAST_SCATTER = 0.001


def crossing(
    t_s: Floats, y: Floats, near_s: float, start_s: float, end_s: float, *, rising: bool | None = None
) -> float | None:
    """The zero crossing of ``y`` in [start_s, end_s] nearest to ``near_s``, by straight lines.

    Parameters
    ----------
    t_s, y : ndarray of shape (T,)
        NaN in ``y`` is skipped.
    near_s, start_s, end_s : float
        Seconds.
    rising : bool, optional
        Only crossings from below (True) or from above (False).

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
        if v[i] != v[i + 1] and v[i] * v[i + 1] <= 0 and rising in (None, bool(v[i + 1] > v[i]))
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


def onset(t_s: Floats, moved: Floats, low: float, high: float) -> float | None:
    """Time at which something at rest began to move, assuming uniform acceleration from rest.

    With ``moved = a (t - t0)^2`` a distance ``high = 4 low`` is reached after twice the time of ``low``, so
    t0 lies as far before ``low`` as ``low`` before ``high``. The last rise through ``low`` before the first
    stay above ``high`` counts, which leaves small fidgeting at rest aside.

    Parameters
    ----------
    t_s, moved : ndarray of shape (T,)
        Distance from the resting place, never negative; NaN is skipped.
    low, high : float
        Distances, ``high`` four times ``low``.
    """
    good = np.isfinite(moved)
    t, s = t_s[good], moved[good]
    beyond = np.flatnonzero((s[:-1] > high) & (s[1:] > high))
    if beyond.size == 0:
        return None
    at_high = _last_rise(t, s, high, int(beyond[0]))
    at_low = _last_rise(t, s, low, int(beyond[0]))
    if at_high is None or at_low is None:
        return None
    return 2 * at_low - at_high


def _last_rise(t_s: Floats, s: Floats, level: float, last: int) -> float | None:
    under = np.flatnonzero(s[: last + 1] <= level)
    if under.size == 0 or under[-1] + 1 >= len(s):
        return None
    i = int(under[-1])
    share = (level - s[i]) / (s[i + 1] - s[i])
    return float(t_s[i] + share * (t_s[i + 1] - t_s[i]))


def onset_fit(t_s: Floats, xy: Floats, candidates: Floats) -> float | None:
    """Time at which a point began to move, by the broken line that fits its way best.

    Until the start the point drifts evenly, as hands and body do at rest; after it a quadratic and a cubic term
    come in. Residuals are weighted by Huber's rule, so that single misplaced frames don't decide.

    Parameters
    ----------
    t_s : ndarray of shape (T,)
        Rising seconds.
    xy : ndarray of shape (T, 2)
        Shares of the standing height.
    candidates : ndarray of shape (K,)
        Start times to try, seconds.

    Returns
    -------
    float or None
        None with fewer than seven points or no candidate.
    """
    if t_s.size < 7 or candidates.size == 0:
        return None
    costs = [_broken_line_cost(t_s, xy, float(start)) for start in candidates]
    return float(candidates[int(np.argmin(costs))])


def _broken_line_cost(t_s: Floats, xy: Floats, start: float) -> float:
    span = float(t_s[-1] - t_s[0])
    since = np.clip(t_s - start, 0, None) / span
    terms = np.stack([np.ones_like(t_s), (t_s - t_s[0]) / span, since**2, since**3], axis=1)
    weight, away = np.ones(len(t_s)), np.zeros(len(t_s))
    for _ in range(3):
        root = np.sqrt(weight)[:, None]
        fit = np.linalg.lstsq(terms * root, xy * root, rcond=None)[0]
        away = np.hypot(*(xy - terms @ fit).T)
        usual = max(LEAST_SCATTER, 1.2 * float(np.median(away)))
        weight = np.minimum(1.0, 1.5 * usual / np.maximum(away, 1e-9))
    return float((np.minimum(away / (2 * LEAST_SCATTER), 2.5) ** 2).sum())
