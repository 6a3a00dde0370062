"""How much a minor practised, against the camp's bounds. It warns; a person decides."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q

from coachhub.accounts.domain.minors import age_of, counts_as_minor
from coachhub.accounts.models import Intake, Minor, User
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
    return junior_loads([student.pk], camp, now=now, day=day).get(student.pk)


def junior_loads(
    students: Iterable[int], camp: Camp, *, now: datetime, day: date | None = None
) -> dict[int, JuniorLoad]:
    """Of the minors among them; as many queries for many as for one."""
    day = day or now.astimezone(camp.zone).date()
    rows = Minor.objects.filter(person__in=list(students))
    minors = {row.person_id: row for row in rows if counts_as_minor(row, now=now)}
    if not minors:
        return {}
    balls, hours, care = _balls(minors, day), _hours(minors), care_of(camp)
    return {
        person_id: JuniorLoad(
            day=day,
            balls_today=balls[person_id].get(day, 0),
            days_of_seven=len(balls[person_id]),
            hours_said=hours.get(person_id, 0),
            hours_to_watch=most_hours(age_of(minor, day)),
            care=care,
        )
        for person_id, minor in minors.items()
    }


def _balls(people: Collection[int], day: date) -> dict[int, dict[date, int]]:
    """Each one's days of practice among the seven that end with ``day``, with the balls of each."""
    of_answers, of_lessons = "review__submission__student_id", "delivery__message__thread__student_id"
    done = Practice.objects.filter(
        Q(**{f"{of_answers}__in": people}) | Q(**{f"{of_lessons}__in": people}),
        kind=PracticeKind.DONE,
        on_day__gt=day - timedelta(days=WEEK),
        on_day__lte=day,
    )
    found: dict[int, dict[date, int]] = {person: {} for person in people}
    for answer, lesson, on_day, balls in done.values_list(of_answers, of_lessons, "on_day", "balls"):
        days = found[answer or lesson]
        days[on_day] = days.get(on_day, 0) + (balls or 0)
    return found


def _hours(people: Collection[int]) -> dict[int, int]:
    """What each one said last."""
    rows = Intake.objects.filter(user__in=people).order_by("created_at", "pk")
    return dict(rows.values_list("user_id", "practice_hours"))
