"""One student's signs over the range days: what a coach said of each, and for staff what the measuring alone found."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from coachhub.accounts.models import User
from coachhub.camps.models import Camp, Cohort
from coachhub.progress.domain.judged import Judged, Status, answered, judged_submissions
from coachhub.swings.enums import SignLevel
from coachhub.swings.models import SignFlag
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission


class Mark(StrEnum):
    """What is shown of a sign on one range day; a coach's word goes before the measuring's."""

    CONFIRMED = "confirmed"
    DISPUTED = "disputed"
    DISMISSED = "dismissed"
    LIKELY = "likely"
    POSSIBLE = "possible"
    NOT_CONFIRMED = "not_confirmed"
    NOT_SEEN = "not_seen"
    CANT_TELL = "cant_tell"


STRONGEST_FIRST = tuple(Mark)
MARK_WORDS: dict[str, str] = {
    Mark.CONFIRMED: "confirmed by a coach",
    Mark.DISPUTED: "coaches differ",
    Mark.DISMISSED: "a coach said: not this",
    Mark.LIKELY: "measured as likely, no coach's word yet",
    Mark.POSSIBLE: "measured as possible, no coach's word yet",
    Mark.NOT_CONFIRMED: "could be seen, not confirmed",
    Mark.NOT_SEEN: "measured, not seen",
    Mark.CANT_TELL: "could not be seen in these views",
}
BY_COACH = (Mark.CONFIRMED, Mark.DISPUTED, Mark.DISMISSED)
WORTH_A_ROW = (*BY_COACH, Mark.LIKELY, Mark.POSSIBLE)


@dataclass(frozen=True)
class SignRow:
    sign: str
    # One for each of the days; None where nothing was said or measured of it.
    marks: tuple[Mark | None, ...]


@dataclass(frozen=True)
class SignMarks:
    days: tuple[date, ...]
    rows: tuple[SignRow, ...]


def confirmed_marks(student: User, camp: Camp) -> SignMarks:
    """What the student and who reads along may see: signs that a coach confirmed, in answers that are out."""
    own = answered(camp, Cohort.objects.filter(camp=camp), own=student)
    judged = judged_submissions(camp, own)
    confirmed = {sign for one in judged for sign, status in one.signs.items() if status == Status.CONFIRMED}
    told = [
        (one.day, sign, Mark(status))
        for one in judged
        for sign, status in one.signs.items()
        if sign in confirmed
    ]
    return _table((one.day for one in judged), told)


def all_marks(student: User, camp: Camp) -> SignMarks:
    """For staff of a student who agrees to it: coaches' words in answers that are out, and what was measured."""
    own = answered(camp, Cohort.objects.filter(camp=camp), own=student)
    sent = Submission.objects.filter(student=student, camp=camp).exclude(
        state__in=(SubmissionState.OPEN, SubmissionState.WITHDRAWN)
    )
    told = [*_of_coaches(judged_submissions(camp, own)), *_measured(sent)]
    days = sent.order_by("range_day").values_list("range_day", flat=True)
    return _table(days, told, only=WORTH_A_ROW)


_Told = tuple[date, str, Mark]


def _of_coaches(judged: Iterable[Judged]) -> Iterable[_Told]:
    """Without what coaches left unsaid: there the measuring speaks."""
    said = (Status.CONFIRMED, Status.DISPUTED, Status.DISMISSED)
    return [
        (one.day, sign, Mark(status))
        for one in judged
        for sign, status in one.signs.items()
        if status in said
    ]


def _measured(sent: Iterable[Submission]) -> Iterable[_Told]:
    marks = {
        SignLevel.LIKELY: Mark.LIKELY,
        SignLevel.POSSIBLE: Mark.POSSIBLE,
        SignLevel.NOT_SEEN: Mark.NOT_SEEN,
        SignLevel.CANT_TELL: Mark.CANT_TELL,
    }
    day = "readout__swing__clip__submission__range_day"
    rows = SignFlag.objects.filter(readout__is_current=True, readout__swing__clip__submission__in=sent)
    return [
        (at, sign, marks[SignLevel(level)])
        for at, sign, level in rows.order_by().values_list(day, "sign", "level").distinct()
    ]


def _table(
    days: Iterable[date], told: Iterable[_Told], *, only: Iterable[Mark] = STRONGEST_FIRST
) -> SignMarks:
    """Of several marks of one day the strongest."""
    best: dict[str, dict[date, Mark]] = defaultdict(dict)
    for day, sign, mark in told:
        best[sign][day] = min(best[sign].get(day, mark), mark, key=STRONGEST_FIRST.index)
    columns, kept = tuple(sorted(set(days))), set(only)
    rows = (
        SignRow(sign, tuple(found.get(day) for day in columns))
        for sign, found in sorted(best.items())
        if kept & set(found.values())
    )
    return SignMarks(columns, tuple(rows))
