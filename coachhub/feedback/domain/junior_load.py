"""How much a minor practised, against the camp's bounds. It warns; a person decides."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Sum

from coachhub.accounts.domain.intake import current_intake
from coachhub.accounts.domain.minors import age_of, is_minor, minority_of
from coachhub.accounts.models import User
from coachhub.camps.domain.care import Care, care_of, most_hours
from coachhub.camps.models import Camp
from coachhub.feedback.enums import PracticeKind
from coachhub.feedback.models import Practice

WEEK = 7


@dataclass(frozen=True)
class JuniorLoad:
    """The day looked at, and the seven days that end with it. Practice of all camps counts: it is one body."""

    day: date
    balls_today: int
    days_of_seven: int
    hours_said: int
    hours_to_watch: int
    care: Care

    @property
    def too_many_balls(self) -> bool:
        return self.balls_today > self.care.balls_per_day

    @property
    def too_many_days(self) -> bool:
        return self.days_of_seven > self.care.days_per_week

    @property
    def too_many_hours(self) -> bool:
        return self.hours_said > self.hours_to_watch

    @property
    def is_over(self) -> bool:
        return self.too_many_balls or self.too_many_days or self.too_many_hours


def junior_load(student: User, camp: Camp, *, now: datetime, day: date | None = None) -> JuniorLoad | None:
    """None for grown-ups. ``day``: in the camp's zone; today, unless said otherwise."""
    minor = minority_of(student)
    if minor is None or not is_minor(student, now=now):
        return None
    day = day or now.astimezone(camp.zone).date()
    done = Practice.objects.of(student).filter(kind=PracticeKind.DONE)
    week = done.filter(on_day__gt=day - timedelta(days=WEEK), on_day__lte=day)
    intake = current_intake(student)
    return JuniorLoad(
        day=day,
        balls_today=done.filter(on_day=day).aggregate(n=Sum("balls"))["n"] or 0,
        days_of_seven=week.values("on_day").distinct().count(),
        hours_said=intake.practice_hours if intake else 0,
        hours_to_watch=most_hours(age_of(minor, day)),
        care=care_of(camp),
    )
