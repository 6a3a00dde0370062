"""Camp weeks: whole weeks from the camp's first day, in the camp's zone. Week 1 is the first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from coachhub.camps.models import Camp


@dataclass(frozen=True)
class CampWeek:
    number: int
    first_day: date
    last_day: date


def local_day(camp: Camp, at: datetime) -> date:
    """The date in the camp's zone; ``at`` must know its own zone."""
    if at.tzinfo is None:
        raise ValueError(f"at must carry a time zone, and {at.isoformat()} does not")
    return at.astimezone(camp.zone).date()


def week_of(camp: Camp, day: date) -> int | None:
    """The week ``day`` falls in, or None before the camp. Days after the camp count on."""
    if isinstance(day, datetime):
        raise ValueError(f"day must be a date in the camp's zone, not the time {day.isoformat()}")
    days = (day - camp.starts_on).days
    return days // 7 + 1 if days >= 0 else None


def camp_week(camp: Camp, at: datetime) -> int | None:
    return week_of(camp, local_day(camp, at))


def weeks(camp: Camp) -> list[CampWeek]:
    """All weeks of the camp; the last one ends with the camp."""
    count = week_of(camp, camp.ends_on) or 0
    firsts = (camp.starts_on + timedelta(days=7 * number) for number in range(count))
    return [
        CampWeek(number, first, min(first + timedelta(days=6), camp.ends_on))
        for number, first in enumerate(firsts, start=1)
    ]
