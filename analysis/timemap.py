"""Two swings side by side: the same event at the same moment."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.types import EVENTS, EventTime, Floats

# Two events of one swing that lie closer than this can't carry a segment of the map.
LEAST_STEP_S = 0.001


@dataclass(frozen=True, slots=True)
class TimeMap:
    """Times of one swing to those of another; straight between shared events, rising, invertible.

    Attributes
    ----------
    events : tuple of str
        The shared events that carry the map, in order, at least two.
    first_s, second_s : ndarray of shape (E,)
        Their times in either swing, seconds, rising.
    left_out : tuple of str
        Events of either swing that don't carry it: missing in the other, or out of order.
    """

    events: tuple[str, ...]
    first_s: Floats
    second_s: Floats
    left_out: tuple[str, ...]

    @property
    def pace(self) -> float:
        """Seconds of the second swing for one of the first, from the first shared event to the last."""
        return float((self.second_s[-1] - self.second_s[0]) / (self.first_s[-1] - self.first_s[0]))

    def to_second(self, t_s: Floats) -> Floats:
        """Times of the second swing.

        Parameters
        ----------
        t_s : ndarray of shape (N,)
            Seconds of the first swing's clip. Outside the shared events the map goes on at ``pace``.

        Returns
        -------
        ndarray of shape (N,)
        """
        return _carry(t_s, self.first_s, self.second_s, self.pace)

    def to_first(self, t_s: Floats) -> Floats:
        """Times of the first swing; the inverse of ``to_second``.

        Parameters
        ----------
        t_s : ndarray of shape (N,)
            Seconds of the second swing's clip.

        Returns
        -------
        ndarray of shape (N,)
        """
        return _carry(t_s, self.second_s, self.first_s, 1 / self.pace)


def time_map(first: Mapping[str, EventTime], second: Mapping[str, EventTime]) -> TimeMap:
    """The map between two swings by their shared events.

    Parameters
    ----------
    first, second : mapping of str to EventTime
        Events of either swing by name, as a readout has them; any may be missing.

    Returns
    -------
    TimeMap
        Where two shared events stand in the wrong order in one swing (as noise may put neighbours), the less
        certain one is left out.

    Raises
    ------
    ValueError
        If a name is no event, or fewer than two shared events are left.
    """
    for name in (*first, *second):
        if name not in EVENTS:
            raise ValueError(f"events must be among {EVENTS}, got {name!r}")
    shared = [name for name in EVENTS if _known(first, name) and _known(second, name)]
    kept = _in_order(shared, first, second)
    if len(kept) < 2:
        raise ValueError(f"two swings must share at least two events, these share {kept or 'none'}")
    some = [name for name in EVENTS if name in first or name in second]
    return TimeMap(
        tuple(kept),
        np.array([first[name].t_s for name in kept]),
        np.array([second[name].t_s for name in kept]),
        tuple(name for name in some if name not in kept),
    )


def _known(events: Mapping[str, EventTime], name: str) -> bool:
    return name in events and math.isfinite(events[name].t_s)


def _in_order(names: list[str], first: Mapping[str, EventTime], second: Mapping[str, EventTime]) -> list[str]:
    """The surest events first, each kept only if it stands in order with those kept before it."""

    def doubt(name: str) -> tuple[float, int]:
        errors = [each[name].se_s for each in (first, second)]
        known = all(math.isfinite(error) for error in errors)
        return (math.hypot(*errors) if known else math.inf, EVENTS.index(name))

    kept: list[str] = []
    for name in sorted(names, key=doubt):
        trial = sorted([*kept, name], key=EVENTS.index)
        steps = [np.diff([each[event].t_s for event in trial]) for each in (first, second)]
        if all((step >= LEAST_STEP_S).all() for step in steps):
            kept = trial
    return kept


def _carry(t_s: Floats, from_s: Floats, to_s: Floats, pace: float) -> Floats:
    times = np.asarray(t_s, dtype=float)
    inside = np.interp(times, from_s, to_s)
    before, after = np.minimum(times - from_s[0], 0), np.maximum(times - from_s[-1], 0)
    return np.asarray(inside + pace * (before + after))
