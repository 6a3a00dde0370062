"""What became of the idea, of the finding's numbers and of the ball since a student's first finding."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from analysis.causes.evidence import SIGN_NODES
from analysis.compare import CHANGED, NO_CHANGE, Change, words
from analysis.signs.rules import RULES
from coachhub.accounts.models import User
from coachhub.camps.domain.weeks import local_day, week_of
from coachhub.camps.models import Camp
from coachhub.feedback.domain.finding import miss_sentence
from coachhub.feedback.enums import Grasp
from coachhub.feedback.models import FindingVersion, SayBack
from coachhub.videos.models import Submission


@dataclass(frozen=True)
class Strand:
    """What became of the idea, of a sign's number, or of the ball since the first finding."""

    what: str
    sentence: str
    metric: str = ""


def strands_of(
    student: User,
    camp: Camp,
    submissions: list[Submission],
    findings: list[FindingVersion],
    changes: list[tuple[date, Change]],
) -> Iterator[Strand]:
    if not findings:
        return
    first = findings[0]
    later = [
        one for one in submissions if one.pk != first.review.submission_id and one.range_day > _day_of(first)
    ]
    if first.root_kind == "idea" and first.root_node:
        yield Strand("The idea", _idea_sentence(student, camp, first, later))
    yield from _number_strands(first, changes)
    yield Strand("The ball", _ball_sentence(first, later))


def _day_of(version: FindingVersion) -> date:
    return version.review.submission.range_day


def _in_week(camp: Camp, day: date) -> str:
    week = week_of(camp, day)
    return f"{day:%-d %B}" + (f", week {week}" if week else "")


def _idea_sentence(student: User, camp: Camp, first: FindingVersion, later: list[Submission]) -> str:
    understood = [said for said in say_backs_of(student, camp) if said.grasp == Grasp.UNDERSTOOD]
    parts = []
    if understood and understood[0].judged_at:
        parts.append(f"said back and understood ({_in_week(camp, local_day(camp, understood[0].judged_at))})")
    if not later:
        return "; ".join([*parts, "not asked again yet"])
    if first.root_node in later[-1].intents:
        return "; ".join([*parts, f"chosen again ({_in_week(camp, later[-1].range_day)})"])
    since = next(
        one
        for number, one in enumerate(later)
        if all(first.root_node not in each.intents for each in later[number:])
    )
    return "; ".join([*parts, f"not chosen any more since {_in_week(camp, since.range_day)}"])


def _number_strands(first: FindingVersion, changes: list[tuple[date, Change]]) -> Iterator[Strand]:
    """The numbers of the finding's own mechanism, or of every confirmed sign where it has none."""
    own = {sign for sign, node in SIGN_NODES.items() if node == first.mechanism_node}
    metrics = {term.metric for rule in RULES if rule.key in own for term in rule.terms}
    by_metric: dict[str, list[tuple[date, Change]]] = defaultdict(list)
    for day, change in changes:
        if not metrics or change.metric in metrics:
            by_metric[change.metric].append((day, change))
    for metric, found in by_metric.items():
        yield Strand("", _number_sentence(first.review.submission.camp, found), metric=metric)


def _number_sentence(camp: Camp, found: list[tuple[date, Change]]) -> str:
    moved = next(((day, change) for day, change in found if change.verdict == CHANGED), None)
    if moved:
        return f"{words(moved[1])}, first seen {_in_week(camp, moved[0])}"
    quiet = [change for _, change in found if change.verdict == NO_CHANGE]
    return words((quiet or [change for _, change in found])[-1])


def _ball_sentence(first: FindingVersion, later: list[Submission]) -> str:
    if not later:
        return "no later session yet"
    names = ("start", "curve", "strike", "height")
    before = {name: first.miss_said.get(name, "") for name in names}
    same_club = [one for one in later if one.club_class == first.miss_said.get("club_class")]
    if not same_club:
        return "no later session with the same club yet"
    camp = first.review.submission.camp
    last = same_club[-1]
    now = {name: getattr(last, f"miss_{name}") for name in names}
    if now == before:
        return f"the same miss reported ({_in_week(camp, last.range_day)})"
    return f"reported differently ({_in_week(camp, last.range_day)}): {miss_sentence(last) or 'no miss reported'}"


def say_backs_of(student: User, camp: Camp) -> Any:
    rows = SayBack.objects.filter(review__submission__student=student, review__submission__camp=camp)
    return rows.select_related("message").order_by("created_at", "id")
