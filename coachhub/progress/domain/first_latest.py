"""A student's first range day beside the latest one on equal terms: the same club class, view and frame rate.

Of each side one swing is shown: the one nearest to the mean of its day, neither the best nor the worst. What the
numbers say comes from the means of the days (``analysis.compare``), never from the two swings in the pictures.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from analysis.compare import Change, MeasuredSwing, compare_sessions, usual_rate
from analysis.spread import FEWEST_SWINGS
from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.feedback.enums import ReviewState
from coachhub.swings.domain.measured import measured_swing
from coachhub.swings.models import Readout
from coachhub.videos.enums import SubmissionState


@dataclass(frozen=True)
class Side:
    day: date
    # Of the swing that is shown, with its swing, clip, submission and run.
    readout: Readout
    swings: int


@dataclass(frozen=True)
class Pair:
    view: str
    club_class: str
    rate: int
    first: Side
    latest: Side
    # In the numbers asked for, by name.
    changes: tuple[Change, ...]

    @property
    def key(self) -> str:
        """What it is called in addresses."""
        return f"{self.view}.{self.club_class}.{self.rate}"


@dataclass(frozen=True)
class _Filmed:
    readout: Readout
    swing: MeasuredSwing


_Days = dict[date, list[_Filmed]]


def first_and_latest(
    student: User, camp: Camp, metrics: Iterable[str] | None, *, only_published: bool = True
) -> list[Pair]:
    """One pair for each club class, view and frame rate filmed on two days or more; the most swings first.

    ``metrics``: the numbers that the reader may see (None: all). One query, however many swings.
    """
    kinds = _by_kind(student, camp, only_published)
    wanted = None if metrics is None else frozenset(metrics)
    found = [
        (sum(map(len, days.values())), _pair(kind, days, wanted))
        for kind, days in kinds.items()
        if len(days) > 1
    ]
    return [pair for _, pair in sorted(found, key=lambda each: (-each[0], each[1].key))]


def _by_kind(student: User, camp: Camp, only_published: bool) -> dict[tuple[str, str, int], _Days]:
    submission = "swing__clip__submission"
    rows = (
        Readout.objects.of_strikes()
        .filter(is_current=True, **{f"{submission}__student": student, f"{submission}__camp": camp})
        .exclude(**{f"{submission}__state__in": (SubmissionState.OPEN, SubmissionState.WITHDRAWN)})
    )
    if only_published:
        rows = rows.filter(**{f"{submission}__review__state": ReviewState.PUBLISHED})
    kinds: dict[tuple[str, str, int], _Days] = defaultdict(lambda: defaultdict(list))
    for readout in rows.select_related(submission, "run").order_by(f"{submission}__range_day", "pk"):
        sent = readout.swing.clip.submission
        assert sent is not None
        try:
            swing = measured_swing(readout, sent.club_class)
        except (KeyError, ValueError):
            continue  # An old readout that does not say how it was filmed can't stand on equal terms.
        kinds[swing.view, sent.club_class, usual_rate(swing.fps)][sent.range_day].append(
            _Filmed(readout, swing)
        )
    return kinds


def _pair(kind: tuple[str, str, int], days: _Days, wanted: frozenset[str] | None) -> Pair:
    """The first and the last day with enough swings to compare, else simply the first and the last."""
    full = sorted(day for day, filmed in days.items() if len(filmed) >= FEWEST_SWINGS)
    ends = (full[0], full[-1]) if len(full) > 1 else (min(days), max(days))
    before, after = ([_known(one.swing, wanted) for one in days[day]] for day in ends)
    changes = compare_sessions(before, after)
    first, latest = (_side(day, days[day]) for day in ends)
    return Pair(*kind, first, latest, tuple(changes[name] for name in sorted(changes)))


def _known(swing: MeasuredSwing, wanted: frozenset[str] | None) -> MeasuredSwing:
    """Only what was measured: what was not has no unit that could be compared."""
    metrics = {
        name: metric
        for name, metric in swing.metrics.items()
        if metric.value is not None and (wanted is None or name in wanted)
    }
    return MeasuredSwing(swing.view, swing.club_class, swing.fps, metrics)


def _side(day: date, filmed: list[_Filmed]) -> Side:
    place = most_usual([_values(one.swing) for one in filmed])
    return Side(day, filmed[place].readout, len(filmed))


def _values(swing: MeasuredSwing) -> dict[str, float]:
    return {
        name: metric.value
        for name, metric in swing.metrics.items()
        if metric.value is not None and math.isfinite(metric.value)
    }


def most_usual(swings: list[dict[str, float]]) -> int:
    """Place of the swing nearest to the means, each number in units of its own spread; the first of equals.

    Numbers that not every swing has, or that don't differ, say nothing of which one is usual.
    """
    if not swings:
        raise ValueError("swings must not be empty")
    shared = set.intersection(*(set(each) for each in swings))
    distance = [0.0] * len(swings)
    for name in shared:
        values = [each[name] for each in swings]
        middle = math.fsum(values) / len(values)
        variance = math.fsum((value - middle) ** 2 for value in values)
        if variance > 0:
            for place, value in enumerate(values):
                distance[place] += (value - middle) ** 2 / variance
    return min(range(len(swings)), key=lambda place: (round(distance[place], 9), place))
