"""What a cohort's report on paper counts: who took part, what was kept, signs, drills. Nobody is ranked."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from coachhub.accounts.domain.consent import allowing
from coachhub.accounts.enums import Purpose
from coachhub.camps.domain.weeks import week_of, weeks
from coachhub.camps.enums import MemberState
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.feedback.domain.adherence import Assignment, adherence
from coachhub.progress.domain.judged import Judged, answered, judged_submissions
from coachhub.progress.domain.participation import NOT_SENT, Participation, Turnout, participation, turnout
from coachhub.progress.domain.signs import Course, Prevalence, sign_change, sign_prevalence
from coachhub.progress.domain.turnaround import Turnaround, turnaround
from coachhub.videos.models import Submission

# Below this many students a number may say who is meant.
FEW = 5


@dataclass(frozen=True)
class SentWeek:
    """``week`` 0: before the camp."""

    week: int
    students: int
    sessions: int


@dataclass(frozen=True)
class SignRow:
    prevalence: Prevalence
    # In how many students it went which way.
    courses: dict[str, int]


@dataclass(frozen=True)
class DrillUse:
    """One drill over all students that it was given to."""

    name: str
    students: int
    # Full weeks with a planned number of days, and those in which it was reached.
    weeks: int
    kept: int
    stopped: int
    unclear: int


@dataclass(frozen=True)
class CohortReport:
    cohort: Cohort
    # By name, for a copy with names; empty for one without.
    people: tuple[Participation, ...]
    turnout: Turnout
    sent: tuple[SentWeek, ...]
    turnaround: Turnaround
    reviewed: int
    signs: tuple[SignRow, ...]
    drills: tuple[DrillUse, ...]

    @property
    def is_small(self) -> bool:
        return self.turnout.students < FEW


def cohort_report(cohort: Cohort, *, with_names: bool, now: datetime) -> CohortReport:
    """For the cohort's staff. What students agree to be seen is counted; of others only that they took part."""
    camp = cohort.camp
    people = [row for row in participation(camp, [cohort], now=now) if row.state != MemberState.LEFT]
    judged = judged_submissions(camp, answered(camp, [cohort]))
    return CohortReport(
        cohort=cohort,
        people=tuple(sorted(people, key=lambda row: row.name.casefold())) if with_names else (),
        turnout=turnout(people),
        sent=tuple(sent_weeks(cohort)),
        turnaround=turnaround(camp, [cohort], now=now),
        reviewed=len(judged),
        signs=tuple(sign_rows(camp, judged)),
        drills=tuple(drill_uses(cohort, now=now)),
    )


def sent_weeks(cohort: Cohort) -> Iterable[SentWeek]:
    """Each week of the camp, and those around it in which somebody sent."""
    rows = Submission.objects.filter(cohort=cohort).exclude(state__in=NOT_SENT)
    by_week: dict[int, list[int]] = defaultdict(list)
    for student, day in rows.values_list("student_id", "range_day"):
        by_week[week_of(cohort.camp, day) or 0].append(student)
    numbers = {week.number for week in weeks(cohort.camp)} | set(by_week)
    return [SentWeek(one, len(set(by_week[one])), len(by_week[one])) for one in sorted(numbers)]


def sign_rows(camp: Camp, judged: list[Judged]) -> Iterable[SignRow]:
    numbers = sorted({week.number for week in weeks(camp)} | {one.week or 0 for one in judged})
    courses: dict[str, Counter[str]] = defaultdict(Counter)
    for row in sign_change(judged):
        courses[row.sign][row.course] += 1
    return [
        SignRow(row, {course: courses[row.sign][course] for course in Course if courses[row.sign][course]})
        for row in sign_prevalence(judged, numbers)
    ]


def drill_uses(cohort: Cohort, *, now: datetime) -> Iterable[DrillUse]:
    """The most given first."""
    here = Membership.objects.students().filter(cohort=cohort).exclude(state=MemberState.LEFT)
    agreed = here.filter(user__in=allowing(Purpose.FEEDBACK)).values_list("user_id", flat=True)
    given: dict[str, dict[int, list[Assignment]]] = defaultdict(lambda: defaultdict(list))
    for student, assignments in adherence(agreed, cohort.camp, now=now).items():
        for one in assignments:
            if one.review.drill is not None:
                given[one.review.drill.name][student].append(one)
    uses = [_use(name, found, cohort.camp) for name, found in given.items()]
    return sorted(uses, key=lambda use: (-use.students, use.name))


def _use(name: str, found: dict[int, list[Assignment]], camp: Camp) -> DrillUse:
    every = [one for given in found.values() for one in given]
    full = [
        week
        for one in every
        for week in one.full_weeks
        if week.planned is not None and week.starts_on <= camp.ends_on
    ]
    return DrillUse(
        name=name,
        students=len(found),
        weeks=len(full),
        kept=sum(week.is_kept for week in full),
        stopped=sum(any(one.is_stopped for one in given) for given in found.values()),
        unclear=sum(any(one.is_unclear for one in given) for given in found.values()),
    )
