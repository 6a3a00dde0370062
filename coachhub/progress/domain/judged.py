"""What coaches said of the signs in each answered submission: the ground of all counting.

Only published answers count. Within a submission a sign is *confirmed* when a coach agreed on one of its swings and
nobody said "not this" of that swing; *disputed* when coaches differ; *dismissed* when they only said "not this";
*not confirmed* when it could be seen and nobody said a word; *can't tell* when it could not be seen.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from django.db.models import Count, QuerySet

from coachhub.accounts.models import User
from coachhub.camps.domain.weeks import week_of
from coachhub.camps.models import Camp, Cohort
from coachhub.feedback.enums import ReviewState
from coachhub.swings.enums import SignLevel, Verdict
from coachhub.swings.models import SignFlag, SignJudgement
from coachhub.videos.models import Submission


class Status(StrEnum):
    CONFIRMED = "confirmed"
    DISPUTED = "disputed"
    DISMISSED = "dismissed"
    NOT_CONFIRMED = "not_confirmed"
    CANT_TELL = "cant_tell"


STRONGEST_FIRST = tuple(Status)
FLAGGED = (SignLevel.LIKELY, SignLevel.POSSIBLE)


@dataclass(frozen=True)
class Judged:
    """One answered submission: the state of every sign that was measured or judged in it."""

    submission_id: int
    student_id: int
    student_name: str
    cohort_id: int
    day: date
    week: int | None
    signs: dict[str, Status]


@dataclass(frozen=True)
class HitRate:
    """How the machine's flags of one sign fared, counted over swings."""

    sign: str
    flagged: int
    agreed: int
    dismissed: int
    added: int

    @property
    def unjudged(self) -> int:
        return self.flagged - self.agreed - self.dismissed


def answered(
    camp: Camp, cohorts: QuerySet[Cohort] | Iterable[Cohort], *, own: User | None = None
) -> QuerySet[Submission]:
    """``cohorts``: those of the camp that the reader may look at. ``own``: only this student's, for themselves.

    Of students who don't agree that others see it, nobody else counts anything.
    """
    seen = Submission.objects.filter(student=own) if own else Submission.objects.sent_with_consent()
    return seen.filter(camp=camp, cohort__in=cohorts, review__state=ReviewState.PUBLISHED).order_by(
        "range_day", "pk"
    )


def judged_submissions(camp: Camp, submissions: QuerySet[Submission]) -> list[Judged]:
    """Three queries, however many submissions."""
    seen, verdicts = _visible_signs(submissions), _verdicts(submissions)
    rows = submissions.values_list("pk", "student_id", "student__name", "cohort_id", "range_day")
    return [
        Judged(pk, student, name, cohort, day, week_of(camp, day), _states(seen[pk], verdicts[pk]))
        for pk, student, name, cohort, day in rows
    ]


def _visible_signs(submissions: QuerySet[Submission]) -> dict[int, dict[str, bool]]:
    """Per submission and measured sign: whether any swing let it be seen."""
    submission = "readout__swing__clip__submission_id"
    rows = (
        SignFlag.objects.filter(
            readout__is_current=True, readout__swing__clip__submission__in=submissions.order_by()
        )
        .values_list(submission, "sign", "level")
        .annotate(swings=Count("pk"))
    )
    seen: dict[int, dict[str, bool]] = defaultdict(dict)
    for pk, sign, level, _ in rows:
        seen[pk][sign] = seen[pk].get(sign, False) or level != SignLevel.CANT_TELL
    return seen


_Verdicts = dict[str, dict[int, set[str]]]


def _verdicts(submissions: QuerySet[Submission]) -> dict[int, _Verdicts]:
    rows = SignJudgement.objects.filter(swing__clip__submission__in=submissions.order_by()).values_list(
        "swing__clip__submission_id", "sign", "swing_id", "verdict"
    )
    verdicts: dict[int, _Verdicts] = defaultdict(lambda: defaultdict(lambda: defaultdict(set)))
    for pk, sign, swing, verdict in rows:
        verdicts[pk][sign][swing].add(verdict)
    return verdicts


def _states(seen: dict[str, bool], verdicts: _Verdicts) -> dict[str, Status]:
    return {
        sign: state_of(visible=seen.get(sign, False), swings=list(verdicts.get(sign, {}).values()))
        for sign in sorted({*seen, *verdicts})
    }


def state_of(*, visible: bool, swings: list[set[str]]) -> Status:
    """``visible``: some swing let the machine see it; ``swings``: what coaches said, one set per judged swing."""
    said = [_swing_state(words) for words in swings]
    unsaid = Status.NOT_CONFIRMED if visible else Status.CANT_TELL
    return min([*said, unsaid], key=STRONGEST_FIRST.index)


def _swing_state(words: set[str]) -> Status:
    agree, against = Verdict.AGREE in words, Verdict.NOT_THIS in words
    if agree:
        return Status.DISPUTED if against else Status.CONFIRMED
    return Status.DISMISSED if against else Status.CANT_TELL


def hit_rates(submissions: QuerySet[Submission]) -> list[HitRate]:
    """Per sign: flagged swings, how many of them coaches confirmed or dismissed, and what coaches found themselves."""
    flagged = set(
        SignFlag.objects.filter(
            readout__is_current=True,
            level__in=FLAGGED,
            readout__swing__clip__submission__in=submissions.order_by(),
        ).values_list("readout__swing_id", "sign")
    )
    states = {
        (swing, sign): _swing_state(words)
        for found in _verdicts(submissions).values()
        for sign, swings in found.items()
        for swing, words in swings.items()
    }
    signs = sorted({sign for _, sign in {*flagged, *states}})
    return [_rate(sign, {swing for swing, each in flagged if each == sign}, states) for sign in signs]


def _rate(sign: str, flagged: set[int], states: dict[tuple[int, str], Status]) -> HitRate:
    mine = {swing: state for (swing, each), state in states.items() if each == sign}
    agreed = {swing for swing, state in mine.items() if state == Status.CONFIRMED}
    dismissed = {swing for swing, state in mine.items() if state == Status.DISMISSED}
    return HitRate(
        sign=sign,
        flagged=len(flagged),
        agreed=len(flagged & agreed),
        dismissed=len(flagged & dismissed),
        added=len(agreed - flagged),
    )
