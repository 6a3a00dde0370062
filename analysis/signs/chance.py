"""From a number with its standard error to the chance of a pattern: closed form, the same every time.

A grey zone says how far practice agrees on where a pattern begins: the line is taken as normal around the
zone's middle, and 90 % of it lies within the zone. A term's chance is then the probability that the true
value, normal around the measured one, lies beyond that line; a wider error pulls it toward one half. The
terms of a sign add up as weighted log-odds: a confirming term never lowers the sum, and one that could
not be measured adds nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import erf, exp, log, sqrt

# 90 % of a normal distribution lies within so many standard deviations of its middle.
_NINETY = 1.6449
# No single number is trusted beyond this: pictures mislead in ways that no standard error covers.
_SUREST = 0.995


def term_chance(value: float, se: float, grey: tuple[float, float]) -> float:
    """Chance in 0.005..0.995 that the true value lies beyond the line inside ``grey``.

    Parameters
    ----------
    value, se : float
        Measured value and its standard error, in the metric's unit; ``se`` at least 0.
    grey : tuple of float
        Where the pattern begins to be spoken of and where it is plain; falling for patterns that lie low.

    Raises
    ------
    ValueError
        If ``se`` is negative or the zone is empty.
    """
    start, end = grey
    if se < 0:
        raise ValueError(f"se must be at least 0, got {se}")
    if start == end:
        raise ValueError(f"grey must be two different values, got {grey}")
    own = abs(end - start) / (2 * _NINETY)
    beyond = (value - (start + end) / 2) * (1 if end > start else -1)
    chance = 0.5 * (1 + erf(beyond / sqrt(2 * (se**2 + own**2))))
    return min(_SUREST, max(1 - _SUREST, chance))


def pooled(terms: Iterable[tuple[float, float]]) -> float:
    """Chance of the whole from ``(weight, chance)`` pairs; 0.5 without any.

    Raises
    ------
    ValueError
        If a weight is not above 0 or a chance not inside 0..1.
    """
    total = 0.0
    for weight, chance in terms:
        if weight <= 0:
            raise ValueError(f"weight must be above 0, got {weight}")
        if not 0 < chance < 1:
            raise ValueError(f"chance must lie inside 0..1, got {chance}")
        total += weight * log(chance / (1 - chance))
    return 1 / (1 + exp(-total))
