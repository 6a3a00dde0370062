"""What the coaching did and when, for the time axis of a student's plots: findings, the one thing, drills. Only from
answers that are out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from coachhub.accounts.models import User
from coachhub.camps.domain.weeks import local_day
from coachhub.camps.models import Camp
from coachhub.feedback.domain.adherence import Assignment, assignments_of
from coachhub.feedback.domain.finding import chain
from coachhub.feedback.domain.versions import answered_findings
from coachhub.feedback.enums import PracticeKind, ReviewState
from coachhub.feedback.models import FindingVersion, Practice, Review


class Kind(StrEnum):
    """In the order of a day."""

    FINDING = "finding"
    PRIORITY = "priority"
    DRILL = "drill"
    DRILL_ENDED = "drill_ended"
    DRILL_HURT = "drill_hurt"


KIND_WORDS: dict[str, str] = {
    Kind.FINDING: "Found",
    Kind.PRIORITY: "The one thing",
    Kind.DRILL: "Drill given",
    Kind.DRILL_ENDED: "Drill ended",
    Kind.DRILL_HURT: "Stopped, it hurt",
}


@dataclass(frozen=True)
class Coached:
    day: date
    kind: Kind
    # Written by a coach, or a drill's name.
    told: str

    @property
    def kind_label(self) -> str:
        return KIND_WORDS[self.kind]


@dataclass(frozen=True)
class CoachedDay:
    """All of one day under one number, by which the plots name it."""

    number: int
    day: date
    deeds: tuple[Coached, ...]


def coached_days(student: User, camp: Camp, *, now: datetime) -> list[CoachedDay]:
    answers = (
        Review.objects.filter(submission__student=student, submission__camp=camp, state=ReviewState.PUBLISHED)
        .order_by("published_at", "pk")
        .values_list("published_at", "priority")
    )
    hurts = Practice.objects.of(student, camp).with_drills().filter(kind=PracticeKind.HURTS)
    deeds = [
        *_findings(camp, answered_findings(student, camp)),
        *_priorities([(local_day(camp, at), words) for at, words in answers if at is not None]),
        *_drills(assignments_of(student, camp, now=now)),
        *(Coached(one.on_day, Kind.DRILL_HURT, one.drill.name) for one in hurts if one.drill is not None),
    ]
    return by_day(deeds)


def by_day(deeds: Iterable[Coached]) -> list[CoachedDay]:
    order = list(Kind)
    days: dict[date, list[Coached]] = {}
    for deed in sorted(deeds, key=lambda each: (each.day, order.index(each.kind))):
        days.setdefault(deed.day, []).append(deed)
    return [
        CoachedDay(number, day, tuple(found)) for number, (day, found) in enumerate(days.items(), start=1)
    ]


def _findings(camp: Camp, versions: Iterable[FindingVersion]) -> Iterator[Coached]:
    """Said once while it stays the same."""
    before = ""
    for version in versions:
        links = " ← ".join(step.text for step in chain(version))
        if links and links != before:
            yield Coached(local_day(camp, version.created_at), Kind.FINDING, links)
        before = links or before


def _priorities(answers: Iterable[tuple[date, str]]) -> Iterator[Coached]:
    before = ""
    for day, words in answers:
        if words.strip() and same_words(words) != before:
            yield Coached(day, Kind.PRIORITY, words)
            before = same_words(words)


def same_words(words: str) -> str:
    """What of two wordings must be equal for them to be the same thing to work on."""
    return " ".join(words.casefold().split()).rstrip(".!")


def _drills(newest_first: list[Assignment]) -> Iterator[Coached]:
    """A drill that the next answer gives again goes on."""
    given = newest_first[::-1]
    for place, one in enumerate(given):
        assert one.review.drill is not None
        before = given[place - 1] if place else None
        after = given[place + 1] if place + 1 < len(given) else None
        goes_on = before is not None and before.review.drill_id == one.review.drill_id
        if not (goes_on and before is not None and before.ends_on == one.starts_on):
            yield Coached(one.starts_on, Kind.DRILL, one.review.drill.name)
        is_given_again = after is not None and after.review.drill_id == one.review.drill_id
        if one.ends_on is not None and not (is_given_again and after and after.starts_on == one.ends_on):
            yield Coached(one.ends_on, Kind.DRILL_ENDED, one.review.drill.name)
