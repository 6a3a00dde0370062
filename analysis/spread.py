"""When the means of two sets of swings differ: swing-to-swing spread and the measurement's own error together.

Welch's comparison of two means with unequal spreads (B. L. Welch, 1947, Biometrika 34:28-35; degrees of freedom by
F. E. Satterthwaite, 1946, Biometrics Bulletin 2:110-114), widened by the measurement's error.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

# Upper critical values of Student's t, 0.975, for 1 to 30 degrees of freedom and then for these; NIST/SEMATECH
# e-Handbook of Statistical Methods, section 1.3.6.7.2.
_T_975 = (
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131,
    2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042,
)  # fmt: skip
_T_975_BEYOND = ((30, 2.042), (40, 2.021), (50, 2.009), (60, 2.000), (80, 1.990), (100, 1.984))
NORMAL_975 = 1.96

# The part of a measurement's error variance that the swings of one day share (the camera stood where it stood), so
# that more swings don't average it away. A planning value: common practice, no study.
COMMON_SHARE = 0.5
FEWEST_SWINGS = 3


@dataclass(frozen=True, slots=True)
class Mean:
    """Mean of several swings, in the unit of what was measured.

    Attributes
    ----------
    value : float
    n : int
        Swings.
    spread : float or None
        Standard deviation from swing to swing; None for one swing.
    noise : float
        Root mean square of the swings' own standard errors.
    """

    value: float
    n: int
    spread: float | None
    noise: float

    @property
    def sampling_variance(self) -> float:
        """Of the mean, from the swing-to-swing spread."""
        return self.spread**2 / self.n if self.spread is not None else 0.0

    @property
    def noise_variance(self) -> float:
        """Of the mean, from measuring: the common part stays, the rest shrinks with the number of swings."""
        return self.noise**2 * (COMMON_SHARE + (1 - COMMON_SHARE) / self.n)

    @property
    def se(self) -> float:
        """Standard error of the mean."""
        return math.sqrt(self.sampling_variance + self.noise_variance)

    @property
    def half_width(self) -> float:
        """Of the mean's 95 % interval; with one swing it knows the measurement's error only."""
        return t_975(_freedom(self)) * self.se


@dataclass(frozen=True, slots=True)
class Difference:
    """``after`` minus ``before`` with half of its 95 % interval."""

    value: float
    half_width: float


def mean_of(values: Sequence[float], errors: Sequence[float]) -> Mean:
    """Mean, spread and noise of some swings.

    Parameters
    ----------
    values : sequence of float
        One a swing, at least one, finite.
    errors : sequence of float
        Standard error of each value, same length, finite, not negative.

    Returns
    -------
    Mean

    Raises
    ------
    ValueError
        If the lengths differ, there is none, or a number is not as said.
    """
    n = len(values)
    if n < 1 or n != len(errors):
        raise ValueError(f"values and errors must be as many and at least one, got {n} and {len(errors)}")
    if not all(map(math.isfinite, (*values, *errors))) or min(errors) < 0:
        raise ValueError("values must be finite and errors finite and not negative")
    middle = math.fsum(values) / n
    noise = math.sqrt(math.fsum(error**2 for error in errors) / n)
    if n == 1:
        return Mean(middle, 1, None, noise)
    return Mean(middle, n, math.sqrt(math.fsum((value - middle) ** 2 for value in values) / (n - 1)), noise)


def difference(before: Mean, after: Mean) -> Difference:
    """``after`` minus ``before`` with a 95 % half-width.

    Parameters
    ----------
    before, after : Mean

    Returns
    -------
    Difference

    Notes
    -----
    Each difference stands for itself: of twenty that did not change, one may leave its interval by chance. The
    spread already holds the part of the noise that differs from swing to swing, so the interval errs on the wide side.
    """
    half = t_975(_freedom(before, after)) * math.hypot(before.se, after.se)
    return Difference(after.value - before.value, half)


def smallest_detectable(se_before: float, se_after: float) -> float:
    """The least difference of two single measurements that noise alone makes in 1 of 20 cases.

    1.96 x sqrt(2) x standard error where both are the same.

    Parameters
    ----------
    se_before, se_after : float
        Standard errors, not negative, in the unit of the measurement.

    Raises
    ------
    ValueError
        If one is negative or not finite.

    References
    ----------
    J. P. Weir, 2005, Journal of Strength and Conditioning Research 19(1):231-240 (from memory, M).
    """
    for name, value in (("se_before", se_before), ("se_after", se_after)):
        if not 0 <= value < math.inf:
            raise ValueError(f"{name} must be finite and at least 0, got {value}")
    return NORMAL_975 * math.hypot(se_before, se_after)


def t_975(df: float) -> float:
    """Student's t for a two-sided 95 % interval; between the table's rows the wider one.

    Parameters
    ----------
    df : float
        Degrees of freedom, at least 1; may be infinite.

    Raises
    ------
    ValueError
        If ``df`` is below 1.
    """
    if not df >= 1:
        raise ValueError(f"df must be at least 1, got {df}")
    if df < len(_T_975) + 1:
        return _T_975[int(df) - 1]
    if math.isinf(df):
        return NORMAL_975
    row = bisect_right(_T_975_BEYOND, df, key=lambda entry: entry[0])
    return _T_975_BEYOND[row - 1][1]


def _freedom(*means: Mean) -> float:
    """Satterthwaite's degrees of freedom; the measurement's error counts as known."""
    total = sum(mean.se**2 for mean in means)
    loose = sum(mean.sampling_variance**2 / (mean.n - 1) for mean in means if mean.n > 1)
    return max(1.0, total**2 / loose) if loose else math.inf
