"""From the miss over what the club did to the root: the coach's chain for one submission."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from analysis.causes import CauseMap
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.causes import Node, node_or_none
from coachhub.feedback.domain.marks import LATEST_US
from coachhub.feedback.domain.texts import text_for
from coachhub.feedback.enums import Confidence, RootKind
from coachhub.feedback.models import Chain, Finding, Review
from coachhub.videos.enums import MissCurve, MissHeight, MissStart, MissStrike
from coachhub.videos.models import Submission

TEXTS = {"miss": "miss", "mechanism": "what the club did", "root": "the root"}
NODES = {"mechanism_node": "what the club did", "root_node": "the root"}
FRAMED = ("miss", "mechanism", "root")
CHOICES: dict[str, tuple[Any, str]] = {
    "root_kind": (RootKind, "kind of root"),
    "confidence": (Confidence, "how sure you are"),
}


def save_finding(review: Review, fields: Mapping[str, Any]) -> Finding:
    """Write the chain: miss, mechanism, root (own words), their nodes, root_kind, confidence, frames, taken_root.

    Only the given fields change. A node without own words brings its label along.
    """
    from coachhub.feedback.domain.camp_map import map_of

    changes = chain_fields(fields, map_of(review.submission.camp).found)
    finding, _ = Finding.objects.update_or_create(review=review, defaults=changes)
    return finding


def chain_fields(fields: Mapping[str, Any], found: CauseMap) -> dict[str, Any]:
    """The given fields as they are stored, or a sentence about what does not fit."""
    known = {*TEXTS, *NODES, *CHOICES, "frames", "taken_root"}
    unknown = set(fields) - known
    if unknown:
        raise ValueError(f"finding must have fields of {sorted(known)}, not {sorted(unknown)}")
    changes: dict[str, Any] = {
        name: text_for(Finding, name, fields[name], label=TEXTS[name]) for name in TEXTS if name in fields
    }
    changes |= {name: _node(fields[name], NODES[name], found) for name in NODES if name in fields}
    changes |= {name: _choice(fields[name], *CHOICES[name]) for name in CHOICES if name in fields}
    if "taken_root" in fields:
        taken = str(fields["taken_root"] or "")
        changes["taken_root"] = taken if taken in found.nodes else ""
    if "frames" in fields:
        changes["frames"] = _frames(fields["frames"])
    return changes


def has_chain(chain: Chain) -> bool:
    """Whether the coach said anything beyond the reported miss."""
    return any((chain.mechanism_node, chain.mechanism, chain.root_kind, chain.root_node, chain.root))


def _node(value: object, label: str, found: CauseMap) -> str:
    key = str(value or "").strip()
    if key and key not in found.nodes:
        raise RuleBroken(
            "node", f"“{label.capitalize()}”: {key!r} is not on the cause map. Choose one or use words."
        )
    return key


def _choice(value: object, choices: Any, label: str) -> str:
    word = str(value or "").strip()
    if word and word not in choices.values:
        raise RuleBroken("choice", f"“{label.capitalize()}”: choose one of the offered answers.")
    return word


def _frames(value: Mapping[str, str]) -> dict[str, Any]:
    """``{"root": "swing@microseconds"}`` as stored; a link without a frame is left out."""
    found = {name: frame_of(text) for name, text in value.items() if name in FRAMED}
    return {name: {"swing": frame[0], "at_us": frame[1]} for name, frame in found.items() if frame}


def frame_of(text: str) -> tuple[str, int] | None:
    """The public id and the time of "id@microseconds"."""
    ident, _, time = str(text or "").partition("@")
    try:
        return str(UUID(ident)), min(max(int(time), 0), LATEST_US)
    except ValueError:
        return None


@dataclass(frozen=True)
class Step:
    """One link of the chain as the student reads it."""

    heading: str
    text: str
    part: str = ""
    # The swing and the time that show it.
    frame: dict[str, Any] | None = None


def chain(finding: Chain | None, found: CauseMap | None = None) -> list[Step]:
    """The filled links, in the order of cause seen backwards: where the ball went, what the club did, why."""
    if finding is None:
        return []
    links = (
        ("miss", "Where the ball goes", finding.miss),
        (
            "mechanism",
            "What the club does",
            finding.mechanism or _label(finding.mechanism_node, finding, found),
        ),
        ("root", "Why", finding.root or _label(finding.root_node, finding, found)),
    )
    return [Step(heading, text, part, finding.frames.get(part)) for part, heading, text in links if text]


def _label(key: str, finding: Chain, found: CauseMap | None) -> str:
    """In the map's words; a node that only a camp's own map has is looked up there."""
    node: Node | None = node_or_none(key, found)
    if node is None and key:
        from coachhub.feedback.domain.camp_map import map_of, with_changes

        kept = getattr(finding, "map", None)
        changed = with_changes(kept.changes) if kept else map_of(finding.review.submission.camp).found  # type: ignore[attr-defined]
        node = changed.nodes.get(key)
    return node.label if node else ""


def miss_sentence(submission: Submission) -> str:
    """The reported miss in words, to start the chain from: "starts left, flies straight; fat: ground before ball"."""
    flight = [
        str(choices(value).label)
        for choices, value in ((MissStart, submission.miss_start), (MissCurve, submission.miss_curve))
        if value
    ]
    strike = [
        str(choices(value).label)
        for choices, value, usual in (
            (MissStrike, submission.miss_strike, MissStrike.CLEAN),
            (MissHeight, submission.miss_height, MissHeight.NORMAL),
        )
        if value and value != usual
    ]
    return "; ".join(part for part in (", ".join(flight), *strike) if part)
