from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coachhub.camps.domain.promise import due_at, hours_run

pytestmark = pytest.mark.unit

BERLIN = ZoneInfo("Europe/Berlin")


@given(
    st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 1)),
    st.integers(0, 400),
    st.sets(st.integers(1, 7), max_size=3),
    st.integers(0, 200),
    st.integers(1, 90),
)
def test_it_is_the_inverse_of_the_promise(
    start: datetime, hours: int, rest: set[int], until_pause: int, pause: int
) -> None:
    begin = start.replace(tzinfo=UTC)
    stop = begin + timedelta(hours=until_pause)
    pauses = [(stop, stop + timedelta(hours=pause))]
    due = due_at(begin, hours, BERLIN, rest, pauses)
    assert hours_run(begin, due, BERLIN, rest, pauses) == pytest.approx(hours, abs=1e-6)


def test_a_rest_day_and_the_short_day_of_spring_by_hand() -> None:
    # Berlin skips 02:00 to 03:00 on Sunday 29 March 2026 (EU summer time, last Sunday of March).
    friday_noon = datetime(2026, 3, 27, 12, tzinfo=BERLIN)
    monday_noon = datetime(2026, 3, 30, 12, tzinfo=BERLIN)
    assert hours_run(friday_noon, monday_noon, BERLIN, []) == 71
    assert hours_run(friday_noon, monday_noon, BERLIN, [7]) == 48
    assert hours_run(friday_noon, monday_noon, BERLIN, [6]) == 47


def test_an_end_before_the_start_is_refused() -> None:
    with pytest.raises(ValueError, match="end"):
        hours_run(datetime(2026, 1, 2, tzinfo=UTC), datetime(2026, 1, 1, tzinfo=UTC), BERLIN, [])
