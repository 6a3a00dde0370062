"""The cause map as data, and what must hold of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

GRADES = frozenset({"S", "S2", "M", "C", "K"})
KINDS = frozenset(
    {
        "belief",
        "body limit",
        "set-up",
        "backswing",
        "transition",
        "downswing",
        "impact",
        "finish",
        "ball flight",
        "health",
    }
)
RELATIONS = frozenset(
    {"causes", "contributes", "associated", "compensated by", "correlates", "reinforces", "feedback"}
)
# These say "seen together" or "teaches the player": they may close a circle.
CIRCULAR = frozenset({"correlates", "reinforces", "feedback"})
PHONE = frozenset({"D", "P", "N"})


@dataclass(frozen=True)
class Node:
    """A thing that can be so: an idea, a body limit, a fault of the swing, a ball flight.

    Words are lead and trail, so a node means the same for a left-hander.

    Attributes
    ----------
    phone : str
        From one phone: ``D`` read directly, ``P`` a proxy only, ``N`` not at all.
    """

    key: str
    kind: str
    label: str
    view: str
    seen_by: str
    phone: str


@dataclass(frozen=True)
class Edge:
    """``cause`` leads to ``effect``; ``grade`` is how well that is known, ``support`` where from."""

    cause: str
    effect: str
    relation: str
    how: str
    grade: str
    support: str


@dataclass(frozen=True)
class Idea:
    """How to talk about a belief: ask, say what it does, give a better idea by club, have it said back."""

    node: str
    ask: str
    effect: str
    better_idea: str
    better_idea_driver: str
    show: str
    say_back: str
    grade: str


@dataclass(frozen=True)
class CauseMap:
    nodes: Mapping[str, Node]
    edges: tuple[Edge, ...]
    ideas: Mapping[str, Idea]

    def causes_of(self, key: str) -> tuple[Edge, ...]:
        """Edges that end at ``key``.

        Raises
        ------
        ValueError
            If the map has no such node.
        """
        return tuple(edge for edge in self.edges if edge.effect == self._known(key))

    def effects_of(self, key: str) -> tuple[Edge, ...]:
        """Edges that start at ``key``.

        Raises
        ------
        ValueError
            If the map has no such node.
        """
        return tuple(edge for edge in self.edges if edge.cause == self._known(key))

    def _known(self, key: str) -> str:
        if key not in self.nodes:
            raise ValueError(f"key must be a node of the cause map, not {key!r}")
        return key


def in_causal_order(edges: tuple[Edge, ...]) -> list[str]:
    """Nodes such that each comes after all its causes, circular relations left out.

    Raises
    ------
    ValueError
        If a circle remains.
    """
    sorter: TopologicalSorter[str] = TopologicalSorter()
    for edge in edges:
        if edge.relation not in CIRCULAR:
            sorter.add(edge.effect, edge.cause)
    try:
        return list(sorter.static_order())
    except CycleError as error:
        raise ValueError(f"edges must not form a circle, but do: {' -> '.join(error.args[1])}") from error


def check(found: CauseMap) -> CauseMap:
    """The same map, if it is sound: known kinds, relations and grades, known ends, no circle.

    Raises
    ------
    ValueError
        At the first thing that is wrong.
    """
    for node in found.nodes.values():
        _one_of("kind", node.kind, KINDS, node.key)
        _one_of("phone", node.phone, PHONE, node.key)
    for edge in found.edges:
        name = f"{edge.cause} -> {edge.effect}"
        _one_of("grade", edge.grade, GRADES, name)
        _one_of("relation", edge.relation, RELATIONS, name)
        for end in (edge.cause, edge.effect):
            if end not in found.nodes:
                raise ValueError(f"edge {name}: {end!r} is no node")
    for idea in found.ideas.values():
        if idea.node not in found.nodes or found.nodes[idea.node].kind != "belief":
            raise ValueError(f"idea {idea.node!r} must belong to a belief node")
        _one_of("grade", idea.grade, GRADES, idea.node)
    in_causal_order(found.edges)
    return found


def _one_of(name: str, value: str, allowed: frozenset[str], where: str) -> None:
    if value not in allowed:
        raise ValueError(f"{name} of {where} must be one of {sorted(allowed)}, not {value!r}")
