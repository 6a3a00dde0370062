"""Who has been on the same thing for long: one priority over several range days, and whether its numbers moved.

Nobody is ranked by it; it says where a coach may want to look again, at the words or at the drill.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from uuid import UUID

from analysis.causes.evidence import SIGN_NODES
from analysis.signs.rules import RULES
from coachhub.camps.enums import MemberState
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.feedback.enums import Fate, ReviewState, VersionKind
from coachhub.feedback.models import FindingVersion, FindingWord, Review
from coachhub.progress.domain.coaching import same_words
from coachhub.progress.domain.judged import Judged, Status
from coachhub.progress.domain.noise import difference
from coachhub.progress.domain.trends import Trend
from coachhub.videos.models import Submission

# From this many range days on (common practice, no source).
HELD_DAYS = 3


class Standing(StrEnum):
    STUCK = "stuck"
    UNTOLD = "untold"
    MOVED = "moved"


@dataclass(frozen=True)
class Answer:
    """What one published answer asked for."""

    student_id: int
    day: date
    priority: str
    mechanism: str
    # A coach said later of this one's finding that it has gone.
    is_resolved: bool = False


@dataclass(frozen=True)
class Streak:
    """The newest answers in a row that ask for the same thing."""

    priority: str
    mechanism: str
    days: tuple[date, ...]


@dataclass(frozen=True)
class Held:
    student_id: int
    member_id: UUID
    name: str
    streak: Streak
    standing: Standing

    @property
    def since(self) -> date:
        return self.streak.days[0]

    @property
    def sessions(self) -> int:
        return len(self.streak.days)


def held_priorities(
    camp: Camp,
    cohorts: Iterable[Cohort],
    submissions: Iterable[Submission],
    judged: Iterable[Judged],
    trends: dict[int, list[Trend]],
) -> list[Held]:
    """By name: students who take part and have been on one thing for ``HELD_DAYS`` range days or more.

    ``submissions``, ``judged``, ``trends``: of answers that are out, as the page counts them anyway. Four queries.
    """
    signs = _signs(judged)
    places = (
        Membership.objects.students()
        .filter(camp=camp, cohort__in=list(cohorts))
        .exclude(state=MemberState.LEFT)
        .select_related("user")
    )
    streaks = {student: streak_of(found) for student, found in _answers(submissions).items()}
    found = []
    for place in sorted(places, key=lambda each: (each.user.name.casefold(), each.pk)):
        streak = streaks.get(place.user_id)
        if streak is not None and len(streak.days) >= HELD_DAYS:
            numbers = numbers_of(streak, signs[place.user_id])
            standing = standing_of(streak, numbers, trends.get(place.user_id, []))
            found.append(Held(place.user_id, place.public_id, place.user.name, streak, standing))
    return found


def streak_of(answers: Iterable[Answer]) -> Streak | None:
    """``answers`` of one student, the oldest first. An answer without words of its own leaves the thing open; one that
    follows a finding that has gone begins anew."""
    streak: Streak | None = None
    for one in answers:
        says_nothing = not (one.priority.strip() or one.mechanism)
        if streak is not None and (says_nothing or _is_same(streak, one)):
            streak = replace(
                streak,
                priority=one.priority or streak.priority,
                mechanism=one.mechanism or streak.mechanism,
                days=tuple(dict.fromkeys((*streak.days, one.day))),
            )
        elif not says_nothing:
            streak = Streak(one.priority, one.mechanism, (one.day,))
        if one.is_resolved:
            streak = None
    return streak


def _is_same(streak: Streak, answer: Answer) -> bool:
    words = same_words(answer.priority)
    return bool(words and words == same_words(streak.priority)) or bool(
        answer.mechanism and answer.mechanism == streak.mechanism
    )


def numbers_of(streak: Streak, confirmed: set[str]) -> set[str]:
    """The numbers behind the finding's own sign; where it has none, behind all signs that a coach confirmed."""
    own = {sign for sign, node in SIGN_NODES.items() if node == streak.mechanism}
    return {term.metric for rule in RULES if rule.key in (own or confirmed) for term in rule.terms}


def standing_of(streak: Streak, numbers: set[str], trends: Iterable[Trend]) -> Standing:
    """From the first to the last full day of the streak. Without two full days it can't be told."""
    found = [_moved(streak, trend) for trend in trends if trend.metric in numbers]
    if True in found:
        return Standing.MOVED
    return Standing.STUCK if False in found else Standing.UNTOLD


def _moved(streak: Streak, trend: Trend) -> bool | None:
    full = [point for point in trend.full if point.day >= streak.days[0]]
    return difference(full[0].mean, full[-1].mean).is_change if len(full) > 1 else None


def _signs(judged: Iterable[Judged]) -> dict[int, set[str]]:
    signs: dict[int, set[str]] = defaultdict(set)
    for one in judged:
        signs[one.student_id] |= {sign for sign, status in one.signs.items() if status == Status.CONFIRMED}
    return signs


def _answers(submissions: Iterable[Submission]) -> dict[int, list[Answer]]:
    """By student, in the order of the range days."""
    reviews = Review.objects.filter(submission__in=submissions, state=ReviewState.PUBLISHED)
    versions = FindingVersion.objects.filter(review__in=reviews, kind=VersionKind.ANSWER)
    mechanisms = dict(versions.values_list("review_id", "mechanism_node"))
    words = FindingWord.objects.filter(version__review__in=reviews, review__state=ReviewState.PUBLISHED)
    # The newest word counts.
    fates = dict(words.order_by("created_at", "id").values_list("version__review_id", "fate"))
    rows = reviews.order_by("submission__range_day", "published_at", "pk").values_list(
        "pk", "submission__student_id", "submission__range_day", "priority"
    )
    answers: dict[int, list[Answer]] = defaultdict(list)
    for pk, student, day, priority in rows:
        gone = fates.get(pk) == Fate.RESOLVED
        answers[student].append(Answer(student, day, priority, mechanisms.get(pk, ""), gone))
    return answers
