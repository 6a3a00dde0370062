"""Read the cause map that comes with the package."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files

from analysis.causes.graph import CauseMap, Edge, Idea, Node, check


def _rows(name: str) -> list[dict[str, str]]:
    text = files("analysis.causes").joinpath(name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def cause_map() -> CauseMap:
    """The checked map of nodes, graded edges and ways to talk about an idea.

    Raises
    ------
    ValueError
        If the files were changed into something unsound.

    References
    ----------
    Coaches' causal stories (grade C, common practice without a study), with ball-flight physics at the end:
    Wood, Henrikson and Broadie 2018, Proceedings 2(6):249 (S); Jorgensen 1994, The physics of golf (M).
    """
    nodes = {row["node"]: _node(row) for row in _rows("nodes.csv")}
    edges = tuple(Edge(**row) for row in _rows("edges.csv"))
    ideas = {row["node"]: Idea(**row) for row in _rows("ideas.csv")}
    return check(CauseMap(nodes, edges, ideas))


def _node(row: dict[str, str]) -> Node:
    return Node(key=row["node"], **{name: value for name, value in row.items() if name != "node"})
