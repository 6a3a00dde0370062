from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coachhub.camps.domain.promise import due_at

pytestmark = pytest.mark.unit

BERLIN, NEW_YORK, TOKYO = ZoneInfo("Europe/Berlin"), ZoneInfo("America/New_York"), ZoneInfo("Asia/Tokyo")
SUNDAY = [7]


def local(zone: ZoneInfo, *parts: int) -> datetime:
    return datetime(*parts, tzinfo=zone)  # type: ignore[misc]


def test_plain_days_count_hour_by_hour() -> None:
    assert due_at(local(TOKYO, 2026, 6, 9, 10), 48, TOKYO, SUNDAY) == local(TOKYO, 2026, 6, 11, 10)


def test_a_rest_day_moves_the_promise_by_a_day() -> None:
    # Saturday 18:00 plus 24 h: 6 h on Saturday, Sunday off, 18 h on Monday.
    assert due_at(local(TOKYO, 2026, 6, 13, 18), 24, TOKYO, SUNDAY) == local(TOKYO, 2026, 6, 15, 18)


def test_a_start_on_a_rest_day_waits_for_the_next_morning() -> None:
    assert due_at(local(TOKYO, 2026, 6, 14, 15), 1, TOKYO, SUNDAY) == local(TOKYO, 2026, 6, 15, 1)


def test_the_rest_day_is_a_day_of_the_camp_not_of_utc() -> None:
    # Sunday 23:30 UTC is Monday 08:30 in Tokyo: the clock runs.
    start = datetime(2026, 6, 14, 23, 30, tzinfo=UTC)
    assert due_at(start, 2, TOKYO, SUNDAY) == start + timedelta(hours=2)
    assert due_at(start, 2, ZoneInfo("UTC"), SUNDAY) == datetime(2026, 6, 15, 2, tzinfo=UTC)


# Clock changes: Directive 2000/84/EC (last Sundays of March and October, 01:00 UTC) and the US Energy Policy
# Act of 2005 (second Sunday of March, first Sunday of November, 02:00 local), both as in the IANA tz database.
@pytest.mark.parametrize(
    ("zone", "start", "due"),
    [
        (BERLIN, (2026, 3, 28, 12), (2026, 3, 29, 13)),
        (BERLIN, (2026, 10, 24, 12), (2026, 10, 25, 11)),
        (NEW_YORK, (2026, 3, 7, 12), (2026, 3, 8, 13)),
        (NEW_YORK, (2026, 10, 31, 12), (2026, 11, 1, 11)),
    ],
)
def test_hours_are_real_hours_over_a_clock_change(
    zone: ZoneInfo, start: tuple[int, ...], due: tuple[int, ...]
) -> None:
    assert due_at(local(zone, *start), 24, zone, []) == local(zone, *due)


@pytest.mark.parametrize(
    ("zone", "saturday", "monday"),
    [
        (BERLIN, (2026, 3, 28, 12), (2026, 3, 30, 12)),
        (BERLIN, (2026, 10, 24, 12), (2026, 10, 26, 12)),
        (NEW_YORK, (2026, 3, 7, 12), (2026, 3, 9, 12)),
        (NEW_YORK, (2026, 10, 31, 12), (2026, 11, 2, 12)),
    ],
)
def test_a_clock_change_inside_the_rest_day_changes_nothing(
    zone: ZoneInfo, saturday: tuple[int, ...], monday: tuple[int, ...]
) -> None:
    # 12 h on Saturday, the 23 or 25 hours of Sunday off, 12 h on Monday.
    assert due_at(local(zone, *saturday), 24, zone, SUNDAY) == local(zone, *monday)


def test_pauses_push_the_promise_and_overlapping_ones_count_once() -> None:
    start = local(TOKYO, 2026, 6, 9, 10)
    pauses = [
        (start + timedelta(hours=2), start + timedelta(hours=5)),
        (start + timedelta(hours=4), start + timedelta(hours=7)),
    ]
    assert due_at(start, 10, TOKYO, [], pauses) == start + timedelta(hours=15)


def test_a_pause_before_the_start_or_after_the_end_does_not_count() -> None:
    start = local(TOKYO, 2026, 6, 9, 10)
    pauses = [
        (start - timedelta(hours=5), start - timedelta(hours=1)),
        (start + timedelta(hours=10), start + timedelta(hours=20)),
    ]
    assert due_at(start, 10, TOKYO, [], pauses) == start + timedelta(hours=10)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"rest_days": range(1, 8)}, "rest_days"),
        ({"rest_days": [0]}, "rest_days"),
        ({"hours": -1}, "hours"),
        ({"start": datetime(2026, 6, 9)}, "start"),
        ({"pauses": [(local(TOKYO, 2026, 6, 9, 5), local(TOKYO, 2026, 6, 9, 4))]}, "pause"),
    ],
)
def test_impossible_promises_are_refused_by_name(changed: dict[str, object], words: str) -> None:
    good: dict[str, object] = {
        "start": local(TOKYO, 2026, 6, 9),
        "hours": 24,
        "zone": TOKYO,
        "rest_days": [],
    }
    with pytest.raises(ValueError, match=words):
        due_at(**{**good, **changed})  # type: ignore[arg-type]


def counted(
    start: datetime,
    end: datetime,
    zone: ZoneInfo,
    rest: list[int],
    pauses: list[tuple[datetime, datetime]],
) -> int:
    """A second way, minute by minute: how many minutes the clock ran from start to end."""
    minutes, at = 0, start
    while at < end:
        resting = at.astimezone(zone).isoweekday() in rest
        paused = any(a <= at < b for a, b in pauses)
        minutes += not resting and not paused
        at += timedelta(minutes=1)
    return minutes


moments = st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 20), timezones=st.just(UTC)).map(
    lambda at: at.replace(second=0, microsecond=0)
)
spans = st.tuples(st.integers(0, 60 * 50), st.integers(0, 60 * 30))


@settings(max_examples=60, deadline=None)
@given(
    start=moments,
    hours=st.integers(1, 60),
    # Lord Howe moves its clock by half an hour; Santiago changes it at midnight.
    zone=st.sampled_from(["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "America/Santiago"]),
    rest=st.lists(st.integers(1, 7), max_size=3, unique=True),
    offsets=st.lists(spans, max_size=3),
)
def test_agrees_with_counting_minutes(
    start: datetime, hours: int, zone: str, rest: list[int], offsets: list[tuple[int, int]]
) -> None:
    place = ZoneInfo(zone)
    pauses = [
        (start + timedelta(minutes=after), start + timedelta(minutes=after + long)) for after, long in offsets
    ]
    due = due_at(start, hours, place, rest, pauses)
    assert counted(start, due, place, rest, pauses) == hours * 60
    # The last minute before it must have counted: no later instant is meant.
    assert counted(due - timedelta(minutes=1), due, place, rest, pauses) == 1
