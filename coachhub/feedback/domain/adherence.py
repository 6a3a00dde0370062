"""Practice planned against practice done, week by week from the day a drill was given."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.feedback.enums import PracticeKind, ReviewState
from coachhub.feedback.models import Practice, Review

WEEK = timedelta(days=7)
NUMBERS = {"once": 1, "twice": 2}
A_WEEK = re.compile(
    r"(\d{1,2})(?:\s*(?:to|or|-|–)\s*\d{1,2})?\s*(?:x|×|times)?\s*(?:a|per)\s+week|(once|twice)\s+a\s+week"
)
DAILY = re.compile(r"\b(?:every|each)\s+day\b|\bdaily\b")


def times_a_week(words: str) -> int | None:
    """On how many days a week, as far as the words say; of "3 to 4 times a week" the fewer. At most 7."""
    words = words.lower()
    if DAILY.search(words):
        return 7
    found = A_WEEK.search(words)
    if found is None:
        return None
    return min(int(found[1]) if found[1] else NUMBERS[found[2]], 7)


@dataclass(frozen=True)
class Week:
    starts_on: date
    # Days planned; None where the dose names no number.
    planned: int | None
    # Days on which something was noted, and the balls of these.
    days: int
    balls: int
    is_running: bool

    @property
    def is_kept(self) -> bool:
        return self.planned is not None and self.days >= self.planned


@dataclass(frozen=True)
class Assignment:
    """The drill of one answer, from the day it was given until the next one was."""

    review: Review
    planned: int | None
    starts_on: date
    ends_on: date | None
    is_stopped: bool
    is_unclear: bool
    weeks: tuple[Week, ...]

    @property
    def is_current(self) -> bool:
        return self.ends_on is None

    @property
    def dose(self) -> str:
        return self.review.dose or (self.review.drill.dose if self.review.drill else "")

    @property
    def kept_weeks(self) -> int:
        return sum(week.is_kept for week in self.full_weeks)

    @property
    def full_weeks(self) -> tuple[Week, ...]:
        return tuple(week for week in self.weeks if not week.is_running)


def assignments_of(student: User, camp: Camp, *, now: datetime) -> list[Assignment]:
    """Of one student, the newest first."""
    return adherence([student.pk], camp, now=now)[student.pk]


def adherence(students: Iterable[int], camp: Camp, *, now: datetime) -> dict[int, list[Assignment]]:
    """Student to the drills that answers gave, the newest first; two queries whatever the number of students."""
    wanted = list(students)
    answers: dict[int, list[Review]] = defaultdict(list)
    rows = Review.objects.filter(
        submission__student__in=wanted, submission__camp=camp, state=ReviewState.PUBLISHED
    )
    for review in rows.select_related("drill", "submission").order_by("published_at", "pk"):
        answers[review.submission.student_id].append(review)
    said: dict[int, list[Practice]] = defaultdict(list)
    for practice in Practice.objects.filter(review__in=rows):
        assert practice.review_id is not None
        said[practice.review_id].append(practice)
    today = now.astimezone(camp.zone).date()
    return {student: _assignments(answers[student], said, camp, today) for student in wanted}


def _assignments(
    answers: list[Review], said: dict[int, list[Practice]], camp: Camp, today: date
) -> list[Assignment]:
    """An answer that gives another drill or another one thing to do ends the drill before it."""
    found = []
    for place, review in enumerate(answers):
        if review.drill is None:
            continue
        following = next((one for one in answers[place + 1 :] if one.drill_id or one.priority), None)
        found.append(_assignment(review, following, said[review.pk], camp, today))
    return found[::-1]


def _assignment(
    review: Review, following: Review | None, said: list[Practice], camp: Camp, today: date
) -> Assignment:
    starts = _day(review, camp)
    ends = _day(following, camp) if following else None
    planned = times_a_week(review.dose)
    if planned is None and review.drill is not None:
        planned = times_a_week(review.drill.per_week) or times_a_week(review.drill.dose)
    kinds = {one.kind for one in said}
    return Assignment(
        review=review,
        planned=planned,
        starts_on=starts,
        ends_on=ends,
        is_stopped=PracticeKind.HURTS in kinds,
        is_unclear=PracticeKind.UNCLEAR in kinds,
        weeks=tuple(_weeks(starts, min(ends or today, today), planned, said, is_open=ends is None)),
    )


def _day(review: Review, camp: Camp) -> date:
    assert review.published_at is not None
    return review.published_at.astimezone(camp.zone).date()


def _weeks(
    starts: date, last: date, planned: int | None, said: list[Practice], *, is_open: bool
) -> Iterable[Week]:
    done = [one for one in said if one.kind == PracticeKind.DONE]
    start = starts
    while start <= last:
        inside = [one for one in done if _week_of(one.on_day, starts) == start]
        yield Week(
            starts_on=start,
            planned=planned,
            days=len({one.on_day for one in inside}),
            balls=sum(one.balls or 0 for one in inside),
            is_running=is_open and last < start + WEEK,
        )
        start += WEEK


def _week_of(day: date, starts: date) -> date:
    """A day just before the first counts for the first week: the answer may have been read east of the camp."""
    return starts + WEEK * max((day - starts).days // 7, 0)
