"""When an answer is promised. Pure: no clock, no database."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

Span = tuple[datetime, datetime]
WEEKDAYS = frozenset(range(1, 8))


def due_at(
    start: datetime, hours: float, zone: ZoneInfo, rest_days: Iterable[int], pauses: Iterable[Span] = ()
) -> datetime:
    """The first instant (UTC) by which the clock has run ``hours`` hours since ``start``.

    The clock counts real hours. It stands still on whole calendar days of ``zone`` whose ISO weekday is in
    ``rest_days``, and from the beginning to the end of each of ``pauses``. A day with a change to or from
    summer time therefore counts 23 or 25 hours.
    """
    resting = _checked(start, hours, rest_days)
    left = timedelta(hours=hours)
    for begin, end in _running(start.astimezone(UTC), zone, resting, _merged(pauses)):
        if end - begin >= left:
            return begin + left
        left -= end - begin
    raise AssertionError("the clock never stops for good")


def hours_run(
    start: datetime, end: datetime, zone: ZoneInfo, rest_days: Iterable[int], pauses: Iterable[Span] = ()
) -> float:
    """How many hours the clock ran from ``start`` to ``end``: the inverse of ``due_at``."""
    resting = _checked(start, 0, rest_days)
    if end.tzinfo is None or end < start:
        raise ValueError(f"end must know its time zone and not lie before start, got {end!r}")
    ran = timedelta()
    for begin, stop in _running(start.astimezone(UTC), zone, resting, _merged(pauses)):
        if begin >= end:
            break
        ran += min(stop, end) - begin
    return ran / timedelta(hours=1)


def _checked(start: datetime, hours: float, rest_days: Iterable[int]) -> frozenset[int]:
    resting = frozenset(rest_days)
    if start.tzinfo is None:
        raise ValueError(f"start must know its time zone, got {start!r}")
    if not 0 <= hours <= 24 * 366:
        raise ValueError(f"hours must be from 0 to {24 * 366}, got {hours}")
    if not resting <= WEEKDAYS:
        raise ValueError(f"rest_days must be ISO weekdays 1 to 7, got {sorted(resting)}")
    if resting == WEEKDAYS:
        raise ValueError("rest_days must leave at least one working day, got all seven")
    return resting


def _merged(pauses: Iterable[Span]) -> list[Span]:
    """Pauses in order, in UTC, without overlaps."""
    merged: list[Span] = []
    for begin, end in sorted((a.astimezone(UTC), b.astimezone(UTC)) for a, b in pauses):
        if end < begin:
            raise ValueError(f"a pause must end after it begins, got {begin} to {end}")
        if merged and begin <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((begin, end))
    return merged


def _running(start: datetime, zone: ZoneInfo, resting: frozenset[int], pauses: list[Span]) -> Iterator[Span]:
    """The spans in which the clock runs, without end."""
    day = start.astimezone(zone).date()
    begin = start
    while True:
        day += timedelta(days=1)
        midnight = _midnight(day, zone)
        if (day - timedelta(days=1)).isoweekday() not in resting:
            yield from _outside(begin, midnight, pauses)
        begin = midnight


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(), zone).astimezone(UTC)


def _outside(begin: datetime, end: datetime, pauses: list[Span]) -> Iterator[Span]:
    for stop, again in pauses:
        if stop >= end:
            break
        if again <= begin:
            continue
        if stop > begin:
            yield begin, stop
        begin = again
    if begin < end:
        yield begin, end
