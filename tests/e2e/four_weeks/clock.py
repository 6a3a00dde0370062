"""The site's time in a story: it stands where the story has it, runs on at the usual speed, and evenings come."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from coachhub.common.tasks import requeue_lost_work
from coachhub.videos.tasks import apply_retention, drop_expired_uploads

ZONE = "Europe/Lisbon"
# A Monday; four weeks on the zone is still the same side of its change of hours.
DAY_ONE = date(2026, 9, 7)
LAST_DAY = DAY_ONE + timedelta(days=27)


class CampClock:
    def __init__(self) -> None:
        self._told, self._since = datetime.now(UTC), time.monotonic()
        self.turn_to(-10)

    def now(self) -> datetime:
        """Takes the place of `django.utils.timezone.now`."""
        return self._told + timedelta(seconds=time.monotonic() - self._since)

    def turn_to(self, day: int, hour: int = 9, minute: int = 0) -> None:
        """Day 1 is the camp's first; hours are those of the camp."""
        there = DAY_ONE + timedelta(days=day - 1)
        told = datetime(there.year, there.month, there.day, hour, minute, tzinfo=ZoneInfo(ZONE))
        self._told, self._since = told.astimezone(UTC), time.monotonic()

    def evening(self, day: int) -> None:
        """What the site does by itself, all at once; at eight nobody's quiet hours have begun."""
        self.turn_to(day, 20)
        for task in (requeue_lost_work, drop_expired_uploads, apply_retention):
            task()

    def install(self, setattr: Callable[[str, object], None]) -> None:
        setattr("django.utils.timezone.now", self.now)
