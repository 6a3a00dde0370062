from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coachhub.progress.domain.load import Load, loads, quantile
from coachhub.progress.domain.turnaround import Answer

pytestmark = pytest.mark.unit

NOW = datetime(2026, 6, 20, 12, tzinfo=UTC)


def answer(
    coach: int | None, *, hours: float | None = 10.0, days_ago: float | None = None, **fields: Any
) -> Answer:
    told = {
        "review_id": uuid4(),
        "student_name": "",
        "cohort": "",
        "coach": f"Coach {coach}" if coach else "",
        "usable_at": None,
        "due_at": None,
        "published_at": None if days_ago is None else NOW - timedelta(days=days_ago),
        "opened_at": None,
        "is_paused": False,
        "hours": hours,
        "is_late": False,
        "coach_id": coach,
    }
    return Answer(**told | fields)


@given(st.lists(st.floats(0, 500), min_size=1, max_size=40), st.floats(0, 1))
def test_quantiles_are_numpys(hours: list[float], share: float) -> None:
    assert quantile(hours, share) == pytest.approx(float(np.quantile(hours, share)), abs=1e-9)


def test_of_nothing_there_is_no_quantile() -> None:
    assert quantile([], 0.5) is None
    with pytest.raises(ValueError, match="share"):
        quantile([1.0], 1.5)


def test_each_coach_by_name_also_without_any_work_and_the_untaken_last() -> None:
    rows = loads([answer(None), answer(2)], [(3, "Zoe"), (2, "Anna")], now=NOW)
    assert [(row.coach_id, row.name, row.open) for row in rows] == [
        (2, "Anna", 1),
        (3, "Zoe", 0),
        (None, "", 1),
    ]


def test_counts_by_hand() -> None:
    found = [
        answer(1, is_late=True),
        answer(1),
        answer(1, days_ago=1, hours=10.0),
        answer(1, days_ago=6, hours=20.0, is_late=True),
        answer(1, days_ago=8, hours=60.0),
        answer(1, days_ago=30, hours=None),
    ]
    assert loads(found, [(1, "Ada")], now=NOW) == [
        Load(1, "Ada", 2, 1, 4, 2, 3, half_within=20.0, most_within=pytest.approx(52.0))
    ]


def test_whoever_answered_here_and_coaches_here_no_more_still_counts() -> None:
    assert [row.name for row in loads([answer(7, days_ago=2)], [], now=NOW)] == ["Coach 7"]
