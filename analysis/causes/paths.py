"""The strongest way from a cause to what was seen, as a product of edge strengths."""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import dataclass
from heapq import heappop, heappush

from analysis.causes.evidence import DOUBT
from analysis.causes.graph import CauseMap, Edge

# How far an edge carries. Own choice, no study: a cause more than a contribution, a contribution more than
# "seen together". Feedback and reinforcement are left out: they say what a miss teaches, not where it comes from.
RELATION: Mapping[str, float] = {
    "causes": 0.8,
    "contributes": 0.5,
    "compensated by": 0.5,
    "associated": 0.3,
    "correlates": 0.25,
}
# And how well it is known.
GRADE: Mapping[str, float] = {"S": 1.0, "S2": 0.95, "K": 0.95, "M": 0.9, "C": 0.85}

Onward = Mapping[str, list[tuple[Edge, float]]]


@dataclass(frozen=True, slots=True)
class Path:
    """Edges from a cause to an effect; none where the cause itself was seen.

    Attributes
    ----------
    strength : float
        Product of relation, grade and doubt over the edges, 0..1.
    """

    edges: tuple[Edge, ...]
    strength: float

    @property
    def ids(self) -> tuple[str, ...]:
        """``cause>effect`` of each edge."""
        return tuple(edge_id(edge) for edge in self.edges)

    @property
    def grades(self) -> tuple[str, ...]:
        """Grade of each edge, in order."""
        return tuple(edge.grade for edge in self.edges)

    @property
    def nodes(self) -> tuple[str, ...]:
        """Keys from the cause to the effect, both included; empty without an edge."""
        return tuple(edge.cause for edge in self.edges[:1]) + tuple(edge.effect for edge in self.edges)


def edge_id(edge: Edge) -> str:
    """``cause>effect``."""
    return f"{edge.cause}>{edge.effect}"


def edge_strength(edge: Edge) -> float:
    """How far one edge carries, 0..1; 0 where its relation explains nothing."""
    return RELATION.get(edge.relation, 0.0) * GRADE[edge.grade]


def strongest_paths(onward: Onward, start: str, *, unseen: Set[str] = frozenset()) -> dict[str, Path]:
    """The strongest path from one node to each node it leads to.

    Parameters
    ----------
    onward : mapping
        From ``edges_onward``.
    start : str
        Key of a node; not part of the answer.
    unseen : set of str
        Each of these on the way halves the strength.

    Returns
    -------
    dict
        Node key to Path. Equal strengths: fewer edges first, then by their ids.
    """
    done: dict[str, Path] = {}
    heap: list[tuple[float, int, tuple[str, ...], str, tuple[Edge, ...]]] = [(-1.0, 0, (), start, ())]
    while heap:
        negative, length, ids, key, edges = heappop(heap)
        if key in done:
            continue
        done[key] = Path(edges, -negative)
        for edge, strength in onward.get(key, ()):
            if edge.effect not in done:
                carried = negative * strength * (DOUBT if edge.effect in unseen else 1.0)
                step = (carried, length + 1, (*ids, edge_id(edge)), edge.effect, (*edges, edge))
                heappush(heap, step)
    del done[start]
    return done


def edges_onward(found: CauseMap, ruled_out: Set[str] = frozenset()) -> Onward:
    """Edges that carry, by their cause, with their strength; of two between the same nodes the stronger.

    Parameters
    ----------
    found : CauseMap
    ruled_out : set of str
        Nodes no path may touch.
    """
    best: dict[tuple[str, str], tuple[Edge, float]] = {}
    for edge in found.edges:
        strength, ends = edge_strength(edge), (edge.cause, edge.effect)
        carries = strength > 0 and not ruled_out & set(ends)
        if carries and (ends not in best or strength > best[ends][1]):
            best[ends] = (edge, strength)
    onward: dict[str, list[tuple[Edge, float]]] = {}
    for (cause, _), entry in best.items():
        onward.setdefault(cause, []).append(entry)
    return onward
