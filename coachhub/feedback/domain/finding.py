"""From the miss over what the club did to the root: the coach's chain for one submission."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.causes import Node, node_or_none
from coachhub.feedback.domain.texts import text_for
from coachhub.feedback.enums import Confidence, RootKind
from coachhub.feedback.models import Finding, Review
from coachhub.videos.enums import MissCurve, MissHeight, MissStart, MissStrike
from coachhub.videos.models import Submission

TEXTS = {"miss": "miss", "mechanism": "what the club did", "root": "the root"}
NODES = {"mechanism_node": "what the club did", "root_node": "the root"}
CHOICES: dict[str, tuple[Any, str]] = {
    "root_kind": (RootKind, "kind of root"),
    "confidence": (Confidence, "how sure you are"),
}


def save_finding(review: Review, fields: Mapping[str, Any]) -> Finding:
    """Write the chain: miss, mechanism, root (own words), mechanism_node, root_node, root_kind, confidence.

    Only the given fields change. A node without own words brings its label along.
    """
    unknown = set(fields) - set(TEXTS) - set(NODES) - set(CHOICES)
    if unknown:
        raise ValueError(
            f"finding must have fields of {sorted({*TEXTS, *NODES, *CHOICES})}, not {sorted(unknown)}"
        )
    changes = {
        name: text_for(Finding, name, fields[name], label=TEXTS[name]) for name in TEXTS if name in fields
    }
    changes |= {name: _node(fields[name], NODES[name]) for name in NODES if name in fields}
    changes |= {name: _choice(fields[name], *CHOICES[name]) for name in CHOICES if name in fields}
    finding, _ = Finding.objects.update_or_create(review=review, defaults=changes)
    return finding


def _node(value: object, label: str) -> str:
    key = str(value or "").strip()
    if key and node_or_none(key) is None:
        raise RuleBroken(
            "node", f"“{label.capitalize()}”: {key!r} is not on the cause map. Choose one or use words."
        )
    return key


def _choice(value: object, choices: Any, label: str) -> str:
    word = str(value or "").strip()
    if word and word not in choices.values:
        raise RuleBroken("choice", f"“{label.capitalize()}”: choose one of the offered answers.")
    return word


@dataclass(frozen=True)
class Step:
    """One link of the chain as the student reads it."""

    heading: str
    text: str


def chain(finding: Finding | None) -> list[Step]:
    """The filled links, in the order of cause seen backwards: where the ball went, what the club did, why."""
    if finding is None:
        return []
    links = (
        ("Where the ball goes", finding.miss),
        ("What the club does", finding.mechanism or _label(finding.mechanism_node)),
        ("Why", finding.root or _label(finding.root_node)),
    )
    return [Step(heading, text) for heading, text in links if text]


def _label(key: str) -> str:
    node: Node | None = node_or_none(key)
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
