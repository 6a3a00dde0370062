"""The cause map as a camp uses it: the shipped one, with what its coaches switched off or added on top.

Every change is a new version, checked against circles before it counts; versions are never rewritten, so a finding can
always be read with the map it was made with. Own edges carry grade C: common practice, no study.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from functools import cache
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.text import slugify

from analysis.causes import CauseMap, Edge, Idea, Node, cause_map, check
from analysis.causes.paths import edge_id
from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.common.domain.events import record
from coachhub.common.rules import can
from coachhub.feedback.models import CampMap

OWN = "own_"
OWN_SUPPORT = "added by a coach of this camp"
OWN_KINDS = ("belief", "set-up", "backswing", "transition", "downswing", "impact", "finish")
OWN_RELATIONS = ("causes", "contributes", "correlates")
MOST_OWN = 60
LONGEST_LABEL, LONGEST_TEXT = 100, 300


@dataclass(frozen=True)
class MapInUse:
    """``row``: the camp's newest change; None while the shipped map is used as it is."""

    found: CauseMap
    row: CampMap | None

    @property
    def name(self) -> str:
        return f"shipped {base_digest()}" + (f", camp version {self.row.number}" if self.row else "")


@cache
def base_digest() -> str:
    """Which shipped map this is."""
    shipped = cause_map()
    rows = [*map(repr, shipped.nodes.values()), *map(repr, shipped.edges), *map(repr, shipped.ideas.values())]
    return hashlib.sha256("\n".join(rows).encode()).hexdigest()[:16]


def map_of(camp: Camp) -> MapInUse:
    row = CampMap.objects.filter(camp=camp).order_by("-number").first()
    return MapInUse(with_changes(row.changes), row) if row else MapInUse(cause_map(), None)


def with_changes(changes: dict[str, Any]) -> CauseMap:
    """The shipped map with a camp's changes. What no longer fits a newer shipped map is left out, not an error."""
    shipped, off = cause_map(), set(changes.get("off", ()))
    nodes = dict(shipped.nodes) | {row["key"]: Node(**row) for row in changes.get("nodes", ())}
    own = [Edge(**row) for row in changes.get("edges", ())]
    edges = tuple(
        edge
        for edge in (*shipped.edges, *own)
        if edge_id(edge) not in off and edge.cause in nodes and edge.effect in nodes
    )
    ideas = dict(shipped.ideas)
    for key, words in changes.get("questions", {}).items():
        if key in nodes and nodes[key].kind == "belief":
            ideas[key] = replace(ideas.get(key, _blank_idea(key)), **words)
    return CauseMap(nodes, edges, ideas)


def _blank_idea(key: str) -> Idea:
    return Idea(key, "", "", "", "the same", "", "", "C")


def switch_edge(camp: Camp, edge: str, *, off: bool, by: User, now: datetime) -> CampMap:
    """Let an edge of the map count no more in this camp, or again."""
    known = {edge_id(each): each for each in (*cause_map().edges, *_own_edges(camp))}
    if edge not in known:
        raise RuleBroken("edge", "That link is not on the map. Load the page again.")
    words = _edge_words(map_of(camp).found, known[edge])

    def change(changes: dict[str, Any]) -> None:
        changes["off"] = sorted(
            (set(changes.get("off", ())) | {edge}) if off else set(changes.get("off", ())) - {edge}
        )

    return _changed(camp, change, f"{'off' if off else 'on'}: {words}", by=by, now=now)


def _own_edges(camp: Camp) -> list[Edge]:
    row = map_of(camp).row
    return [Edge(**each) for each in (row.changes.get("edges", ()) if row else ())]


def _edge_words(found: CauseMap, edge: Edge) -> str:
    labels = [found.nodes[key].label if key in found.nodes else key for key in (edge.cause, edge.effect)]
    return " → ".join(labels)


def add_node(camp: Camp, *, kind: str, label: str, seen_by: str = "", by: User, now: datetime) -> CampMap:
    if kind not in OWN_KINDS:
        raise RuleBroken("kind", "Choose what kind of thing it is.")
    words = _text(label, LONGEST_LABEL, "Say in a few words what can be so.")
    if words.casefold() in {node.label.casefold() for node in map_of(camp).found.nodes.values()}:
        raise RuleBroken("twice", "That is on the map already.")

    def change(changes: dict[str, Any]) -> None:
        nodes = changes.setdefault("nodes", [])
        key = f"{OWN}{len(nodes) + 1}_{slugify(words).replace('-', '_')}"[:40]
        view = "intake" if kind == "belief" else "both"
        node = Node(key, kind, words, view, _text(seen_by, LONGEST_TEXT) or "the coach's eye", "N")
        nodes.append(asdict(node))

    return _changed(camp, change, f"added: {words}", by=by, now=now)


def add_edge(
    camp: Camp, *, cause: str, effect: str, relation: str, how: str = "", by: User, now: datetime
) -> CampMap:
    found = map_of(camp).found
    if cause not in found.nodes or effect not in found.nodes or cause == effect:
        raise RuleBroken("ends", "Choose two different things from the map.")
    if relation not in OWN_RELATIONS:
        raise RuleBroken("relation", "Choose how one leads to the other.")
    if any((edge.cause, edge.effect) == (cause, effect) for edge in found.edges):
        raise RuleBroken("twice", "That link is on the map already.")
    edge = Edge(cause, effect, relation, _text(how, LONGEST_TEXT) or "a coach's experience", "C", OWN_SUPPORT)

    def change(changes: dict[str, Any]) -> None:
        changes["off"] = [each for each in changes.get("off", ()) if each != edge_id(edge)]
        if edge_id(edge) in {edge_id(each) for each in cause_map().edges}:
            return
        kept = [row for row in changes.get("edges", []) if (row["cause"], row["effect"]) != (cause, effect)]
        changes["edges"] = [*kept, asdict(edge)]

    return _changed(camp, change, f"added: {_edge_words(found, edge)}", by=by, now=now)


def set_question(
    camp: Camp, node: str, *, ask: str, better_idea: str = "", say_back: str = "", by: User, now: datetime
) -> CampMap:
    """The camp's own words for an idea: how to ask about it, what is better, what to have said back."""
    found = map_of(camp).found
    if node not in found.nodes or found.nodes[node].kind != "belief":
        raise RuleBroken("node", "Only an idea of the student can be asked about here.")
    words = {"ask": _text(ask, LONGEST_TEXT, "Write the question.")}
    words |= {"better_idea": _text(better_idea, LONGEST_TEXT), "say_back": _text(say_back, LONGEST_TEXT)}
    words = {name: text for name, text in words.items() if text}

    def change(changes: dict[str, Any]) -> None:
        changes.setdefault("questions", {}).setdefault(node, {}).update(words)

    return _changed(camp, change, f"question: {found.nodes[node].label}", by=by, now=now)


def _text(text: str, most: int, missing: str = "") -> str:
    words = text.replace("\x00", "").strip()
    if not words and missing:
        raise RuleBroken("empty", missing)
    if len(words) > most:
        raise RuleBroken("too_long", f"This can have {most} characters; yours has {len(words)}. Shorten it.")
    return words


def _changed(
    camp: Camp, change: Callable[[dict[str, Any]], None], what: str, *, by: User, now: datetime
) -> CampMap:
    if not can(by, "feedback.edit_map", camp):
        raise RuleBroken("not_a_coach", "Only a coach of this camp can change its map.")
    last = map_of(camp).row
    changes: dict[str, Any] = _copy(last.changes) if last else {}
    change(changes)
    _refuse_unsound(changes)
    number = (last.number if last else 0) + 1
    try:
        with transaction.atomic():
            row = CampMap.objects.create(
                camp=camp,
                number=number,
                base=base_digest(),
                changes=changes,
                what=what[:200],
                by=by,
                created_at=now,
            )
    except IntegrityError:
        # Another coach changed the map in the same moment.
        raise Stale() from None
    record("map.changed", row, by=by, now=now, scope=camp.public_id)
    return row


def _copy(changes: dict[str, Any]) -> dict[str, Any]:
    import copy

    return copy.deepcopy(changes)


def _refuse_unsound(changes: dict[str, Any]) -> None:
    if len(changes.get("nodes", ())) > MOST_OWN or len(changes.get("edges", ())) > MOST_OWN:
        raise RuleBroken("too_many", f"A camp can add {MOST_OWN} things and {MOST_OWN} links of its own.")
    found = with_changes(changes)
    try:
        check(found)
    except ValueError as error:
        raise RuleBroken("circle", _circle_words(found, str(error))) from error


def _circle_words(found: CauseMap, complaint: str) -> str:
    """ "a -> b -> a" in the map's words."""
    if "circle" not in complaint:
        return f"The map does not hold together with this: {complaint}."
    keys = [key.strip() for key in complaint.rpartition(":")[2].split("->")]
    labels = [found.nodes[key].label for key in keys if key in found.nodes]
    return f"This would close a circle: {' → '.join(labels)}. A cause can't be its own effect."
