"""When two range sessions differ: the engine's comparison of means, and how many swings a claim needs."""

from __future__ import annotations

from dataclasses import dataclass

from analysis import spread
from analysis.spread import COMMON_SHARE, FEWEST_SWINGS, Mean, mean_of, t_975

__all__ = ["COMMON_SHARE", "FEWEST_SWINGS", "Difference", "Mean", "difference", "mean_of", "t_975"]


@dataclass(frozen=True)
class Difference:
    value: float
    half_width: float
    enough: bool

    @property
    def is_change(self) -> bool:
        return self.enough and abs(self.value) > self.half_width


def difference(before: Mean, after: Mean) -> Difference:
    """``after`` minus ``before``; ``enough``: at least three swings on each side, else nothing may be claimed."""
    found = spread.difference(before, after)
    return Difference(found.value, found.half_width, min(before.n, after.n) >= FEWEST_SWINGS)
