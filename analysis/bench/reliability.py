"""Whether a sign called with a chance of 0.8 is there in eight of ten clips."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

# The levels' borders are bin borders, so that the table also says what "possible" and "likely" are worth.
EDGES = (0.0, 0.05, 0.3, 0.5, 0.75, 0.95, 1.0)


@dataclass(frozen=True, slots=True)
class Bin:
    """Judgements with a chance in ``low..high``: how many, their mean chance, and how many signs were there."""

    low: float
    high: float
    count: int
    mean_p: float
    there: int

    @property
    def share(self) -> float:
        """Observed share, 0..1."""
        return self.there / self.count

    def interval(self) -> tuple[float, float]:
        """95 % interval of the observed share (Wilson 1927)."""
        n, z = self.count, 1.96
        middle = (self.share + z * z / (2 * n)) / (1 + z * z / n)
        half = z / (1 + z * z / n) * sqrt(self.share * (1 - self.share) / n + z * z / (4 * n * n))
        return max(0.0, middle - half), min(1.0, middle + half)


def bins(judged: Iterable[tuple[float, bool]], edges: Sequence[float] = EDGES) -> list[Bin]:
    """Non-empty bins of ``(chance, there)`` pairs; a chance on an edge counts upward.

    Raises
    ------
    ValueError
        If a chance lies outside the edges.
    """
    pairs = list(judged)
    if any(not edges[0] <= p <= edges[-1] for p, _ in pairs):
        raise ValueError(f"chances must lie in {edges[0]}..{edges[-1]}")
    out = []
    for low, high in pairwise(edges):
        mine = [(p, there) for p, there in pairs if low <= p < high or (p == high == edges[-1])]
        if mine:
            mean = sum(p for p, _ in mine) / len(mine)
            out.append(Bin(low, high, len(mine), mean, sum(there for _, there in mine)))
    return out


def brier(judged: Iterable[tuple[float, bool]]) -> float:
    """Mean squared difference of chance and outcome (Brier 1950): 0 perfect, 0.25 for always one half.

    Raises
    ------
    ValueError
        If nothing was judged.
    """
    squares = [(p - there) ** 2 for p, there in judged]
    if not squares:
        raise ValueError("judged must not be empty")
    return sum(squares) / len(squares)
