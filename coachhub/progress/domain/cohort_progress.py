"""How a cohort goes: signs, who is on the same thing for long, who is quiet, the promise, the coaches' load.

Counted over students who agree that coaches see them, by name and never by rank. The number of queries is the same
whatever the number of students.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from coachhub.accounts.domain.consent import allowing
from coachhub.accounts.enums import Purpose
from coachhub.camps.enums import MemberState, Role
from coachhub.camps.models import Cohort, Membership
from coachhub.progress.domain.held import Held, Standing, held_priorities
from coachhub.progress.domain.judged import answered, judged_submissions
from coachhub.progress.domain.load import Load, loads, quantile
from coachhub.progress.domain.quiet import Quiet, gone_quiet
from coachhub.progress.domain.readable import numbers_behind
from coachhub.progress.domain.report_cohort import SignRow, sign_rows
from coachhub.progress.domain.trends import Trend, trends_by_student
from coachhub.progress.domain.turnaround import Turnaround, turnaround
from coachhub.videos.models import Submission


@dataclass(frozen=True)
class Student:
    student_id: int
    member_id: UUID
    name: str
    trends: tuple[Trend, ...]


@dataclass(frozen=True)
class CohortProgress:
    cohort: Cohort
    answered: int
    signs: tuple[SignRow, ...]
    # By name: who takes part and agrees that coaches see it, with the numbers behind signs confirmed in this cohort.
    students: tuple[Student, ...]
    # How many take part without that agreement.
    unseen: int
    stuck: tuple[Held, ...]
    untold: tuple[Held, ...]
    quiet: tuple[Quiet, ...]
    turnaround: Turnaround
    loads: tuple[Load, ...]

    @property
    def kinds(self) -> list[tuple[str, str, str]]:
        """Each number, view and club that somebody has: first those that can be compared in the most students."""
        counts: dict[tuple[str, str, str], tuple[int, int]] = {}
        for student in self.students:
            for trend in student.trends:
                kind = (trend.metric, trend.view, trend.club_class)
                compared, measured = counts.get(kind, (0, 0))
                counts[kind] = (compared - (trend.compared is not None), measured - 1)
        return sorted(counts, key=lambda kind: (counts[kind], kind))

    @property
    def most_within(self) -> float | None:
        """Hours on the promise clock in which nine of ten answers were out."""
        return quantile([each.hours for each in self.turnaround.published if each.hours is not None], 0.9)


def cohort_progress(cohort: Cohort, *, now: datetime) -> CohortProgress:
    camp = cohort.camp
    out = answered(camp, [cohort])
    judged = judged_submissions(camp, out)
    signs = tuple(sign_rows(camp, judged))
    trends = _trends(out, (row.prevalence.sign for row in signs))
    held = held_priorities(camp, [cohort], out.order_by(), judged, trends)
    found = turnaround(camp, [cohort], now=now)
    places = _places(cohort)
    seen = set(allowing(Purpose.FEEDBACK).filter(person_id__in=[place.user_id for place in places]))
    return CohortProgress(
        cohort=cohort,
        answered=len(judged),
        signs=signs,
        students=tuple(_student(place, trends) for place in places if place.user_id in seen),
        unseen=sum(place.user_id not in seen for place in places),
        stuck=tuple(one for one in held if one.standing == Standing.STUCK),
        untold=tuple(one for one in held if one.standing == Standing.UNTOLD),
        quiet=tuple(gone_quiet(camp, [cohort], now=now)),
        turnaround=found,
        loads=tuple(loads(found.answers, _coaches(cohort), now=now)),
    )


def _trends(out: Iterable[Submission], signs: Iterable[str]) -> dict[int, list[Trend]]:
    numbers = numbers_behind(signs)
    sent = Submission.objects.filter(pk__in=[one.pk for one in out])
    return trends_by_student(sent, numbers) if numbers else {}


def _places(cohort: Cohort) -> list[Membership]:
    rows = Membership.objects.students().filter(cohort=cohort).exclude(state=MemberState.LEFT)
    return sorted(rows.select_related("user"), key=lambda each: (each.user.name.casefold(), each.pk))


def _student(place: Membership, trends: dict[int, list[Trend]]) -> Student:
    own = tuple(trends.get(place.user_id, ()))
    return Student(place.user_id, place.public_id, place.user.name, own)


def _coaches(cohort: Cohort) -> list[tuple[int, str]]:
    rows = Membership.objects.filter(cohort=cohort, role=Role.COACH, state=MemberState.ACTIVE)
    return list(rows.values_list("user_id", "user__name"))
