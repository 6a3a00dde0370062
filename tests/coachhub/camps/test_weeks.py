from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coachhub.camps.domain.weeks import camp_week, local_day, week_of, weeks
from coachhub.camps.models import Camp

pytestmark = pytest.mark.unit


def camp(first: date = date(2026, 6, 3), last: date = date(2026, 6, 28), zone: str = "Asia/Tokyo") -> Camp:
    return Camp(name="x", starts_on=first, ends_on=last, time_zone=zone)


@pytest.mark.parametrize(
    ("day", "week"),
    [
        (date(2026, 6, 2), None),
        (date(2026, 6, 3), 1),
        (date(2026, 6, 9), 1),
        (date(2026, 6, 10), 2),
        (date(2026, 6, 28), 4),
        (date(2026, 7, 15), 7),
    ],
)
def test_weeks_count_from_the_first_day_not_from_monday(day: date, week: int | None) -> None:
    assert week_of(camp(), day) == week


def test_the_camps_zone_says_which_day_it_is() -> None:
    # 16:00 UTC on 9 June is 01:00 on 10 June in Tokyo (UTC+9, no summer time), and still the 9th in Lisbon.
    at = datetime(2026, 6, 9, 16, 0, tzinfo=UTC)
    assert local_day(camp(), at) == date(2026, 6, 10)
    assert camp_week(camp(), at) == 2
    assert camp_week(camp(zone="Europe/Lisbon"), at) == 1


def test_the_last_week_ends_with_the_camp() -> None:
    found = weeks(camp())
    assert [week.number for week in found] == [1, 2, 3, 4]
    assert (found[-1].first_day, found[-1].last_day) == (date(2026, 6, 24), date(2026, 6, 28))


def test_a_one_day_camp_has_one_week() -> None:
    (only,) = weeks(camp(last=date(2026, 6, 3)))
    assert only.first_day == only.last_day == date(2026, 6, 3)


@given(st.dates(date(2020, 1, 1), date(2030, 1, 1)), st.integers(0, 365))
def test_the_weeks_cover_each_day_once(first: date, length: int) -> None:
    one = camp(first, first + timedelta(days=length))
    covered = [
        week.first_day + timedelta(days=shift)
        for week in weeks(one)
        for shift in range((week.last_day - week.first_day).days + 1)
    ]
    assert covered == [first + timedelta(days=shift) for shift in range(length + 1)]
    assert all(
        week_of(one, week.first_day) == week.number == week_of(one, week.last_day) for week in weeks(one)
    )


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"):
        local_day(camp(), datetime(2026, 6, 9, 16, 0))
    with pytest.raises(ValueError, match="day must be a date"):
        week_of(camp(), datetime(2026, 6, 9, tzinfo=UTC))
