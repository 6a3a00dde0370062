"""What students of a camp have in common: the same miss, confirmed sign or idea in their latest answered finding."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from coachhub.accounts.models import User
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.feedback.domain.camp_map import map_of
from coachhub.feedback.enums import Ground, ReviewState, VersionKind
from coachhub.feedback.models import FindingVersion
from coachhub.progress.domain.judged import Status, answered, judged_submissions
from coachhub.swings.enums import SignKey
from coachhub.videos.models import Submission


@dataclass(frozen=True)
class Sharer:
    student: User
    member_id: UUID


@dataclass(frozen=True)
class Group:
    ground: str
    key: str
    label: str
    students: tuple[Sharer, ...]


@dataclass(frozen=True)
class Takes:
    """How often the coach's root was the first, second or third that was offered, or none of them."""

    first: int
    second: int
    third: int
    none: int
    as_offered: int

    @property
    def all(self) -> int:
        return self.first + self.second + self.third + self.none


def groups(camp: Camp, cohorts: Iterable[Cohort]) -> list[Group]:
    """By ground, the largest first; each student counts with the newest answer only."""
    cohorts = list(cohorts)
    places = {
        place.user_id: Sharer(place.user, place.public_id)
        for place in Membership.objects.students()
        .filter(camp=camp, cohort__in=cohorts)
        .exclude(state="left")
        .select_related("user")
    }
    found: dict[tuple[str, str], set[int]] = defaultdict(set)
    for ground, key, student in (*_from_findings(camp, cohorts), *_from_signs(camp, cohorts)):
        if student in places:
            found[ground, key].add(student)
    labels = _labels(camp)
    rows = [
        Group(ground, key, labels.get(key, key), tuple(_named(places[student] for student in students)))
        for (ground, key), students in found.items()
    ]
    order = list(Ground.values)
    return sorted(rows, key=lambda row: (order.index(row.ground), -len(row.students), row.label))


def _named(sharers: Iterable[Sharer]) -> list[Sharer]:
    return sorted(sharers, key=lambda each: each.student.name.casefold())


def _labels(camp: Camp) -> dict[str, str]:
    nodes = {key: node.label for key, node in map_of(camp).found.nodes.items()}
    return nodes | {str(value): str(label) for value, label in SignKey.choices}


def _answered_versions(camp: Camp, cohorts: Iterable[Cohort]) -> list[FindingVersion]:
    rows = FindingVersion.objects.filter(
        kind=VersionKind.ANSWER,
        # Who no longer agrees that coaches see it counts nowhere, and isn't named beside a miss or an idea.
        review__submission__in=Submission.objects.sent_with_consent(),
        review__state=ReviewState.PUBLISHED,
        review__submission__camp=camp,
        review__submission__cohort__in=list(cohorts),
    )
    return list(rows.select_related("review__submission").order_by("created_at", "id"))


def _from_findings(camp: Camp, cohorts: list[Cohort]) -> list[tuple[str, str, int]]:
    newest = {row.review.submission.student_id: row for row in _answered_versions(camp, cohorts)}
    found = []
    for student, version in newest.items():
        found += [(str(Ground.MISS), key, student) for key in version.miss_nodes]
        if version.root_kind == "idea" and version.root_node:
            found.append((str(Ground.IDEA), version.root_node, student))
    return found


def _from_signs(camp: Camp, cohorts: list[Cohort]) -> list[tuple[str, str, int]]:
    newest = {row.student_id: row for row in judged_submissions(camp, answered(camp, cohorts))}
    return [
        (str(Ground.SIGN), sign, student)
        for student, row in newest.items()
        for sign, status in row.signs.items()
        if status == Status.CONFIRMED
    ]


def takes(camp: Camp, cohorts: Iterable[Cohort]) -> Takes:
    """Over answers for which something was offered and the coach named a root."""
    counted = [row for row in _answered_versions(camp, cohorts) if row.place is not None]
    places = Counter(row.place for row in counted)
    as_offered = sum(bool(row.place) and not row.was_edited for row in counted)
    return Takes(places[1], places[2], places[3], places[0], as_offered)
