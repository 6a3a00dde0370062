"""When two range sessions differ: means with the swing-to-swing spread and the measurement's own error.

Pure. Welch's comparison of two means with unequal spreads (B. L. Welch, 1947, Biometrika 34:28-35; degrees of freedom
by F. E. Satterthwaite, 1946, Biometrics Bulletin 2:110-114), widened by the measurement's error.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

# Upper critical values of Student's t, 0.975, for 1 to 30 degrees of freedom and then for these; NIST/SEMATECH
# e-Handbook of Statistical Methods, section 1.3.6.7.2.
_T_975 = (
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131,
    2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042,
)  # fmt: skip
_T_975_BEYOND = ((30, 2.042), (40, 2.021), (50, 2.009), (60, 2.000), (80, 1.990), (100, 1.984))
_NORMAL_975 = 1.960

# The part of a measurement's error variance that the swings of one day share (the camera stood where it stood), so
# that more swings don't average it away. A planning value: common practice, no study.
COMMON_SHARE = 0.5
FEWEST_SWINGS = 3


def t_975(df: float) -> float:
    """Student's t for a two-sided 95 % interval; between the table's rows the wider one. ``df`` >= 1."""
    if not df >= 1:
        raise ValueError(f"df must be at least 1, not {df!r}")
    if df < 31:
        return _T_975[int(df) - 1]
    if math.isinf(df):
        return _NORMAL_975
    row = bisect_right(_T_975_BEYOND, df, key=lambda entry: entry[0])
    return _T_975_BEYOND[row - 1][1]


@dataclass(frozen=True)
class Mean:
    """Mean of one day's swings. ``spread``: their standard deviation, None for a single swing."""

    value: float
    n: int
    spread: float | None
    noise: float

    @property
    def sampling_variance(self) -> float:
        return self.spread**2 / self.n if self.spread is not None else 0.0

    @property
    def noise_variance(self) -> float:
        """Of the mean: the common part stays, the rest shrinks with the number of swings."""
        return self.noise**2 * (COMMON_SHARE + (1 - COMMON_SHARE) / self.n)

    @property
    def se(self) -> float:
        return math.sqrt(self.sampling_variance + self.noise_variance)

    @property
    def half_width(self) -> float:
        """Of the 95 % interval. With one swing it knows the measurement's error only."""
        return t_975(_df(self)) * self.se


@dataclass(frozen=True)
class Difference:
    value: float
    half_width: float
    enough: bool

    @property
    def is_change(self) -> bool:
        return self.enough and abs(self.value) > self.half_width


def mean_of(values: Sequence[float], errors: Sequence[float]) -> Mean:
    """``errors``: the standard error of each value, same order. At least one finite value."""
    if not values or len(values) != len(errors):
        raise ValueError(
            f"values and errors must be as many and at least one, not {len(values)}, {len(errors)}"
        )
    if not all(map(math.isfinite, (*values, *errors))) or min(errors) < 0:
        raise ValueError("values must be finite and errors finite and not negative")
    n = len(values)
    middle = math.fsum(values) / n
    noise = math.sqrt(math.fsum(error**2 for error in errors) / n)
    if n == 1:
        return Mean(middle, 1, None, noise)
    spread = math.sqrt(math.fsum((value - middle) ** 2 for value in values) / (n - 1))
    return Mean(middle, n, spread, noise)


def _df(*means: Mean) -> float:
    """Satterthwaite's degrees of freedom; the measurement's error counts as known."""
    total = sum(mean.se**2 for mean in means)
    loose = sum(mean.sampling_variance**2 / (mean.n - 1) for mean in means if mean.n > 1)
    return max(1.0, total**2 / loose) if loose else math.inf


def difference(before: Mean, after: Mean) -> Difference:
    """``after`` minus ``before``; ``enough``: at least three swings on each side, else nothing may be claimed."""
    half = t_975(_df(before, after)) * math.hypot(before.se, after.se)
    enough = min(before.n, after.n) >= FEWEST_SWINGS
    return Difference(after.value - before.value, half, enough)


assert all(wide > narrow for wide, narrow in pairwise(_T_975))
