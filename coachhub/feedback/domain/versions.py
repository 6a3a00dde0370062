"""A finding through time: kept when the answer goes out, spoken of later, differed from by colleagues."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from analysis.causes import CauseMap
from analysis.causes.clubs import for_club
from analysis.causes.misses import reported_nodes
from analysis.causes.paths import Path, edges_onward, strongest_paths
from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.feedback.domain.camp_map import MapInUse, map_of
from coachhub.feedback.domain.claims import refuse_unless_coach
from coachhub.feedback.domain.finding import chain_fields, has_chain, miss_sentence
from coachhub.feedback.domain.health import latest_intake
from coachhub.feedback.domain.ranking import miss_of, suggest_roots
from coachhub.feedback.enums import Fate, ReviewState, VersionKind
from coachhub.feedback.models import Chain, Finding, FindingVersion, FindingWord, Review

COPIED = ("miss", "mechanism_node", "mechanism", "root_kind", "root_node", "root", "confidence")


@transaction.atomic
def keep_version(review: Review, *, by: User, now: datetime) -> FindingVersion | None:
    """The finding as it goes out with the answer. None where the coach gave none."""
    finding = Finding.objects.filter(review=review).first()
    if finding is None or not has_chain(finding):
        return None
    in_use = map_of(review.submission.camp)
    offered = suggest_roots(review, in_use).roots
    place = _place(finding, offered)
    return _kept(
        review,
        finding,
        VersionKind.ANSWER,
        in_use,
        by=by,
        now=now,
        offered=offered,
        place=place,
        was_edited=bool(place and _is_edited(finding, in_use.found)),
    )


def _place(finding: Finding, offered: list[str]) -> int | None:
    """Where the coach's root stood: 0 where it was none of those offered, None where there was nothing to take."""
    if not offered or not (finding.root_node or finding.root):
        return None
    return offered.index(finding.root_node) + 1 if finding.root_node in offered else 0


def _is_edited(finding: Finding, found: CauseMap) -> bool:
    """Own words beside the map's, or a root that was chosen without being taken."""
    node = found.nodes.get(finding.root_node)
    own_words = bool(finding.root) and (node is None or finding.root != node.label)
    return own_words or bool(finding.mechanism) or finding.taken_root != finding.root_node


@transaction.atomic
def give_opinion(review: Review, fields: Mapping[str, Any], *, by: User, now: datetime) -> FindingVersion:
    """Another coach's chain beside the one of the answer; only coaches read it."""
    refuse_unless_coach(review, by)
    in_use = map_of(review.submission.camp)
    chain = Finding(**chain_fields(fields, in_use.found))
    if not has_chain(chain):
        raise RuleBroken("empty", "Say at least what the club does, or why.")
    return _kept(review, chain, VersionKind.OPINION, in_use, by=by, now=now)


def _kept(
    review: Review, chain: Chain, kind: str, in_use: MapInUse, *, by: User, now: datetime, **more: Any
) -> FindingVersion:
    submission = review.submission
    intake = latest_intake(submission.student_id)
    hand = intake.handedness if intake else "right"
    nodes = list(reported_nodes(miss_of(submission), hand))
    usable = for_club(in_use.found, submission.club_class)
    # One at a time for a review: the number is the next, and the constraint holds it.
    Review.objects.select_for_update().get(pk=review.pk)
    version = FindingVersion.objects.create(
        review=review,
        number=review.finding_versions.count() + 1,
        kind=kind,
        by=by,
        created_at=now,
        follows=last_answered(review),
        **{name: getattr(chain, name) for name in (*COPIED, "frames")},
        miss_said={
            "start": submission.miss_start,
            "curve": submission.miss_curve,
            "strike": submission.miss_strike,
            "height": submission.miss_height,
            "club_class": submission.club_class,
            "hand": hand,
        },
        miss_nodes=nodes,
        links=links_of(chain, nodes, usable),
        map=in_use.row,
        map_name=in_use.name[:60],
        **more,
    )
    scope = submission.camp.public_id
    record("finding.kept", version, by=by, now=now, scope=scope, kind=str(kind))
    return version


def draft_links(review: Review) -> list[dict[str, str]]:
    """The links of the chain as it stands, before it goes out."""
    finding = Finding.objects.filter(review=review).first()
    if finding is None or not has_chain(finding):
        return []
    submission = review.submission
    intake = latest_intake(submission.student_id)
    nodes = reported_nodes(miss_of(submission), intake.handedness if intake else "right")
    return links_of(finding, nodes, for_club(map_of(submission.camp).found, submission.club_class))


def links_of(chain: Chain, miss_nodes: Iterable[str], found: CauseMap) -> list[dict[str, str]]:
    """The steps from the root over the mechanism to the miss, with their grades; own words have none.

    A step between two nodes that the map does not join is the coach's own, and says so.
    """
    stops = [
        (chain.root_node, chain.root),
        (chain.mechanism_node, chain.mechanism),
        (_reached_miss(chain, miss_nodes, found), chain.miss),
    ]
    named = [(node, words) for node, words in stops if node or words]
    links: list[dict[str, str]] = []
    for (node, words), (to_node, to_words) in pairwise(named):
        links += _steps(node, words, to_node, to_words, found)
    return links


def _reached_miss(chain: Chain, miss_nodes: Iterable[str], found: CauseMap) -> str:
    """Of a miss with several parts the one that the mechanism leads to best."""
    start = chain.mechanism_node or chain.root_node
    nodes = [key for key in miss_nodes if key in found.nodes]
    if start not in found.nodes:
        return nodes[0] if nodes else ""
    reached = strongest_paths(edges_onward(found), start)
    return max(nodes, key=lambda key: reached[key].strength if key in reached else 0.0, default="")


def _steps(node: str, words: str, to_node: str, to_words: str, found: CauseMap) -> list[dict[str, str]]:
    def label(key: str, own: str) -> str:
        return found.nodes[key].label if key in found.nodes else own

    path: Path | None = None
    if node in found.nodes and to_node in found.nodes:
        path = strongest_paths(edges_onward(found), node).get(to_node)
    if path is None:
        own = {"from": label(node, words), "to": label(to_node, to_words)}
        return [own | {"relation": "leads to", "grade": "", "how": "the coach's own link"}]
    return [
        {
            "from": label(edge.cause, ""),
            "to": label(edge.effect, ""),
            "relation": edge.relation,
            "grade": edge.grade,
            "how": edge.how,
        }
        for edge in path.edges
    ]


def answered_findings(student: User, camp: Camp) -> QuerySet[FindingVersion]:
    """What went out to the student, oldest first."""
    return (
        FindingVersion.objects.filter(
            kind=VersionKind.ANSWER,
            review__submission__student=student,
            review__submission__camp=camp,
            review__state=ReviewState.PUBLISHED,
        )
        .select_related("review__submission", "review__drill", "by", "map")
        .order_by("created_at", "id")
    )


def last_answered(review: Review) -> FindingVersion | None:
    """The newest finding that the student had before this submission's own answer."""
    submission = review.submission
    earlier = answered_findings(submission.student, submission.camp).exclude(review=review)
    if review.published_at is not None:
        earlier = earlier.filter(created_at__lt=review.published_at)
    return earlier.last()


@transaction.atomic
def say_fate(version: FindingVersion, fate: str, *, review: Review, by: User, now: datetime) -> FindingWord:
    """What this submission says of the earlier finding. "Still so" starts the new chain from it, if there is none."""
    refuse_unless_coach(review, by)
    if fate not in Fate.values:
        raise RuleBroken("fate", "Choose one: still so, seen differently, gone, or can't tell yet.")
    same_student = version.review.submission.student_id == review.submission.student_id
    if not same_student or version.review_id == review.pk:
        raise ValueError("version must be an earlier finding of the review's student")
    if review.state not in (ReviewState.WAITING, ReviewState.CLAIMED):
        raise RuleBroken("closed", "This one is closed; say it at the next submission.")
    word = FindingWord.objects.create(version=version, review=review, fate=fate, by=by, created_at=now)
    if fate == Fate.CONFIRMED:
        _start_from(version, review)
    record("finding.spoken_of", version, by=by, now=now, scope=review.submission.camp.public_id, fate=fate)
    return word


def _start_from(version: FindingVersion, review: Review) -> None:
    finding = Finding.objects.filter(review=review).first()
    if finding is not None and has_chain(finding):
        return
    # The ball may fly differently now, and frames belong to the old swings.
    kept = {name: getattr(version, name) for name in COPIED if name != "miss"}
    kept["miss"] = miss_sentence(review.submission)[:200]
    Finding.objects.update_or_create(review=review, defaults=kept)


@dataclass(frozen=True)
class Past:
    """One finding of the student's history, with what became of it."""

    version: FindingVersion
    fate: str
    fate_label: str
    said_at: datetime | None
    said_by: str


def history(student: User, camp: Camp) -> list[Past]:
    """All findings that went out, oldest first; of several later words the newest counts."""
    versions = list(answered_findings(student, camp).prefetch_related("said_later__by", "said_later__review"))
    return [_past(version) for version in versions]


def _past(version: FindingVersion) -> Past:
    # A word counts for the student once the answer that holds it is out; for coaches the desk shows its own.
    words = [word for word in version.said_later.all() if word.review.state == ReviewState.PUBLISHED]
    last = words[-1] if words else None
    return Past(
        version=version,
        fate=last.fate if last else "",
        fate_label=str(Fate(last.fate).label) if last else "not looked at again yet",
        said_at=last.created_at if last else None,
        said_by=last.by.name if last else "",
    )


def word_here(version: FindingVersion, review: Review) -> FindingWord | None:
    """The newest word of this submission on that finding."""
    return FindingWord.objects.filter(version=version, review=review).last()
