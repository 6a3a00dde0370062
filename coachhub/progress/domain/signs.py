"""How often each sign was confirmed, week by week, and how it went for each student. Pure counting over ``judged``."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from coachhub.progress.domain.judged import STRONGEST_FIRST, Judged, Status


@dataclass(frozen=True)
class Share:
    """Of ``students`` whose swings of that week could show the sign, how many had it confirmed."""

    week: int
    confirmed: int
    students: int

    @property
    def share(self) -> float | None:
        return self.confirmed / self.students if self.students else None


@dataclass(frozen=True)
class Prevalence:
    sign: str
    weeks: tuple[Share, ...]
    # Over the whole camp: students in whom it was confirmed at least once, of those who could show it.
    confirmed: int
    students: int


class Course(StrEnum):
    """How a sign went from the first to the last range day on which it could be seen."""

    ONE_DAY = "one_day"
    STAYED = "stayed"
    FADED = "faded"
    CAME = "came"
    BETWEEN = "between"


COURSE_WORDS: dict[str, str] = {
    Course.ONE_DAY: "one range session only",
    Course.STAYED: "confirmed at first and at last",
    Course.FADED: "confirmed at first, not at last",
    Course.CAME: "not at first, confirmed at last",
    Course.BETWEEN: "confirmed in between only",
}


@dataclass(frozen=True)
class StudentSign:
    student_id: int
    student_name: str
    sign: str
    by_week: dict[int, Status]
    course: Course
    sessions: int


def sign_prevalence(judged: Iterable[Judged], weeks: Sequence[int]) -> list[Prevalence]:
    """One row per sign that was ever confirmed, the commonest first."""
    best = _by_student_and_week(judged)
    rows = [_prevalence(sign, cells, weeks) for sign, cells in best.items()]
    return sorted(
        (row for row in rows if row.confirmed), key=lambda row: (-row.confirmed, -row.students, row.sign)
    )


_Cells = dict[tuple[int, int], Status]


def _by_student_and_week(judged: Iterable[Judged]) -> dict[str, _Cells]:
    """Per sign: the strongest state of each student's week."""
    best: dict[str, _Cells] = defaultdict(dict)
    for one in judged:
        for sign, state in one.signs.items():
            key = (one.student_id, one.week or 0)
            best[sign][key] = _stronger(best[sign].get(key, state), state)
    return best


def _stronger(one: Status, other: Status) -> Status:
    return min(one, other, key=STRONGEST_FIRST.index)


def _prevalence(sign: str, cells: _Cells, weeks: Sequence[int]) -> Prevalence:
    could = {key: state for key, state in cells.items() if state != Status.CANT_TELL}
    shares = tuple(
        Share(
            week,
            sum(state == Status.CONFIRMED for (_, each), state in could.items() if each == week),
            sum(each == week for _, each in could),
        )
        for week in weeks
    )
    confirmed = {student for (student, _), state in could.items() if state == Status.CONFIRMED}
    return Prevalence(sign, shares, len(confirmed), len({student for student, _ in could}))


def sign_change(judged: Iterable[Judged]) -> list[StudentSign]:
    """One row per student and sign that was ever confirmed in this student, by student."""
    sessions: dict[tuple[str, int, str], list[Judged]] = defaultdict(list)
    for one in judged:
        for sign in one.signs:
            sessions[(one.student_name, one.student_id, sign)].append(one)
    rows = (_student_sign(*key, found) for key, found in sorted(sessions.items()))
    return [row for row in rows if row is not None]


def _student_sign(name: str, student: int, sign: str, found: list[Judged]) -> StudentSign | None:
    days: dict[object, Status] = {}
    weeks: dict[int, Status] = {}
    for one in sorted(found, key=lambda each: each.day):
        state = one.signs[sign]
        weeks[one.week or 0] = _stronger(weeks.get(one.week or 0, state), state)
        if state != Status.CANT_TELL:
            days[one.day] = _stronger(days.get(one.day, state), state)
    states = list(days.values())
    if Status.CONFIRMED not in states:
        return None
    return StudentSign(student, name, sign, weeks, course_of(states), len(states))


def course_of(states: Sequence[Status]) -> Course:
    """``states``: one per range day on which the sign could be seen, in order; at least one confirmed."""
    if Status.CONFIRMED not in states:
        raise ValueError("states must hold at least one confirmed day")
    if len(states) == 1:
        return Course.ONE_DAY
    first, last = states[0] == Status.CONFIRMED, states[-1] == Status.CONFIRMED
    ends = {(True, True): Course.STAYED, (True, False): Course.FADED, (False, True): Course.CAME}
    return ends.get((first, last), Course.BETWEEN)
