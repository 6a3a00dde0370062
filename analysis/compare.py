"""Swing against swing, range session against range session: what differs, and whether it may be called a change.

Only the means of at least three swings on each side, with equal view, club class and frame rate, are ground for the
word "changed". Two single swings may differ by more than the measurement's noise and still be the same player on
the same day: that is said as "one swing only".
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.numbers import digits_for
from analysis.spread import FEWEST_SWINGS, Mean, difference, mean_of, smallest_detectable
from analysis.types import CLUB_CLASSES, VIEWS, Metric

CHANGED, NO_CHANGE, ONE_SWING, TOO_FEW, NOT_MEASURED = (
    "changed",
    "no_change",
    "one_swing",
    "too_few",
    "not_measured",
)
# Rates phones name; "60" is 59.94 or 60.2 in the file.
USUAL_RATES = (24, 25, 30, 50, 60, 100, 120, 200, 240)
RATE_SLACK = 0.06


@dataclass(frozen=True, slots=True)
class MeasuredSwing:
    """The numbers of one swing and how it was filmed.

    Attributes
    ----------
    view : {"face_on", "dtl"}
    club_class : str or None
        None where it wasn't said.
    fps : float
        Frame rate in real time, frames a second.
    metrics : mapping of str to Metric
        Already in lead and trail words, so either hand may stand on either side.
    """

    view: str
    club_class: str | None
    fps: float
    metrics: Mapping[str, Metric]

    def __post_init__(self) -> None:
        if self.view not in VIEWS:
            raise ValueError(f"view must be one of {VIEWS}, got {self.view!r}")
        if self.club_class is not None and self.club_class not in CLUB_CLASSES:
            raise ValueError(f"club_class must be one of {CLUB_CLASSES}, got {self.club_class!r}")
        if not 0 < self.fps < math.inf:
            raise ValueError(f"fps must be finite and above 0, got {self.fps}")


@dataclass(frozen=True, slots=True)
class Change:
    """One metric on two sides.

    Attributes
    ----------
    metric, unit : str
    before, after : float or None
        The values, or the means; None where that side has none.
    counts : tuple of int
        Swings with a value on each side.
    difference : float or None
        After minus before.
    detectable : float or None
        What the difference must exceed: the smallest detectable change of two single swings, or half of the
        95 % interval between two means.
    verdict : str
        ``changed``, ``no_change``, ``one_swing``, ``too_few`` or ``not_measured``.
    reason : str
        Why there is no number.
    """

    metric: str
    unit: str
    before: float | None
    after: float | None
    counts: tuple[int, int]
    difference: float | None = None
    detectable: float | None = None
    verdict: str = NOT_MEASURED
    reason: str = ""

    @property
    def beyond_noise(self) -> bool:
        """Whether the difference exceeds what is detectable; with one swing this is not yet a change."""
        known = self.difference is not None and self.detectable is not None
        return known and abs(self.difference or 0.0) > (self.detectable or 0.0)


def compare_swings(before: MeasuredSwing, after: MeasuredSwing) -> dict[str, Change]:
    """Two single swings: of one student, or a student's and a reference of another rate, size or distance.

    Parameters
    ----------
    before, after : MeasuredSwing
        Of one view.

    Returns
    -------
    dict of str to Change
        Each metric of either side. Never ``changed``: one swing a side says nothing of the spread.

    Raises
    ------
    ValueError
        If the views differ: their numbers don't mean the same.
    """
    _same_view((before,), (after,))
    return {name: _of_swings(name, before, after) for name in _names((before, after))}


def compare_sessions(before: Sequence[MeasuredSwing], after: Sequence[MeasuredSwing]) -> dict[str, Change]:
    """Two range sessions: means with the swing-to-swing spread and the measurement's noise.

    Parameters
    ----------
    before, after : sequence of MeasuredSwing
        At least one a side; equal view, known and equal club class, equal frame rate throughout.

    Returns
    -------
    dict of str to Change
        Each metric of any swing. ``changed`` or ``no_change`` only with at least three values a side, else
        ``one_swing`` (a side has a single one) or ``too_few``.

    Raises
    ------
    ValueError
        If a side is empty, or view, club class or frame rate are not the same everywhere.

    References
    ----------
    See ``spread``: Welch 1947, Satterthwaite 1946.
    """
    if not before or not after:
        raise ValueError(f"each session must have at least one swing, got {len(before)} and {len(after)}")
    _same_view(before, after)
    _all_equal("club_class", [swing.club_class for swing in (*before, *after)])
    _all_equal("frame rate", [usual_rate(swing.fps) for swing in (*before, *after)])
    return {name: _of_sessions(name, before, after) for name in _names((*before, *after))}


def usual_rate(fps: float) -> int:
    """The rate a file's ``fps`` is meant to be, frames a second.

    Parameters
    ----------
    fps : float
        Above 0.

    Returns
    -------
    int
        The nearest usual rate if within 6 %, else ``fps`` rounded.
    """
    nearest = min(USUAL_RATES, key=lambda rate: abs(rate - fps))
    return nearest if abs(nearest - fps) <= RATE_SLACK * nearest else round(fps)


def words(change: Change) -> str:
    """One plain sentence; the word "changed" only where the verdict says so.

    Parameters
    ----------
    change : Change

    Returns
    -------
    str
    """
    if change.difference is None or change.detectable is None:
        return f"not compared: {change.reason}"
    size = f"{change.difference:+.{digits_for(change.detectable)}f} {_unit(change.unit)}".rstrip()
    margin = f"{change.detectable:.2g} {_unit(change.unit)}".rstrip()
    if change.verdict == CHANGED:
        return f"changed by {size} (± {margin}, 95 %)"
    if change.verdict == NO_CHANGE:
        return f"no change we can measure ({size} ± {margin}, 95 %)"
    few = "one swing only" if change.verdict == ONE_SWING else f"fewer than {FEWEST_SWINGS} swings"
    noise = "more" if change.beyond_noise else "no more"
    return f"{few}: {size}, {noise} than measuring alone can make ({margin})"


def _of_swings(name: str, before: MeasuredSwing, after: MeasuredSwing) -> Change:
    pair = before.metrics.get(name), after.metrics.get(name)
    (old, old_se), (new, new_se) = (_number(metric) for metric in pair)
    unit = _unit_of(pair)
    counts = (int(old is not None), int(new is not None))
    if old is None or new is None:
        return Change(name, unit, old, new, counts, reason=_why_missing(pair))
    least = smallest_detectable(old_se, new_se)
    return Change(name, unit, old, new, counts, new - old, least, ONE_SWING)


def _of_sessions(name: str, before: Sequence[MeasuredSwing], after: Sequence[MeasuredSwing]) -> Change:
    sides = [[swing.metrics.get(name) for swing in side] for side in (before, after)]
    every = [*sides[0], *sides[1]]
    old, new = (_mean(side) for side in sides)
    counts = (old.n if old else 0, new.n if new else 0)
    if old is None or new is None:
        reason = _why_missing(sides[0] if old is None else sides[1])
        ends = (old.value if old else None, new.value if new else None)
        return Change(name, _unit_of(every), *ends, counts, reason=reason)
    found = difference(old, new)
    verdict = _verdict(counts, abs(found.value) > found.half_width)
    return Change(name, _unit_of(every), old.value, new.value, counts, found.value, found.half_width, verdict)


def _verdict(counts: tuple[int, int], beyond: bool) -> str:
    if min(counts) >= FEWEST_SWINGS:
        return CHANGED if beyond else NO_CHANGE
    return ONE_SWING if min(counts) == 1 else TOO_FEW


def _mean(metrics: Sequence[Metric | None]) -> Mean | None:
    numbers = [pair for pair in map(_number, metrics) if pair[0] is not None]
    if not numbers:
        return None
    return mean_of([value for value, _ in numbers if value is not None], [se for _, se in numbers])


def _number(metric: Metric | None) -> tuple[float | None, float]:
    if metric is None or metric.value is None or metric.se is None:
        return None, 0.0
    sound = math.isfinite(metric.value) and math.isfinite(metric.se) and metric.se >= 0
    return (metric.value, metric.se) if sound else (None, 0.0)


def _why_missing(metrics: Sequence[Metric | None]) -> str:
    for metric in metrics:
        if _number(metric)[0] is None:
            return (metric.reason if metric else None) or "not measured"
    return "not measured"


def _unit_of(metrics: Sequence[Metric | None]) -> str:
    units = sorted({metric.unit for metric in metrics if metric is not None})
    if len(units) > 1:
        raise ValueError(f"unit of a metric must be the same everywhere, got {units}")
    return units[0]


def _unit(unit: str) -> str:
    return "" if unit == "1" else unit


def _names(swings: Sequence[MeasuredSwing]) -> list[str]:
    return list(dict.fromkeys(name for swing in swings for name in swing.metrics))


def _same_view(before: Sequence[MeasuredSwing], after: Sequence[MeasuredSwing]) -> None:
    views = sorted({swing.view for swing in (*before, *after)})
    if len(views) > 1:
        raise ValueError(f"view must be the same on both sides, got {views}: their numbers can't be compared")


def _all_equal(name: str, values: Sequence[object]) -> None:
    if None in values or len(set(values)) > 1:
        seen = sorted({str(value) for value in values})
        raise ValueError(f"{name} must be known and the same for every swing, got {seen}")
