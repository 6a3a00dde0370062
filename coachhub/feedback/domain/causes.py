"""The cause map as the coach's choices."""

from __future__ import annotations

from analysis.causes import CauseMap, Node, cause_map
from coachhub.feedback.enums import RootKind

__all__ = ["Node", "mechanism_nodes", "node_or_none", "root_kind_of", "root_nodes"]

MECHANISM_KINDS = ("impact", "downswing", "transition", "finish")
ROOT_KINDS: dict[str, tuple[str, ...]] = {
    RootKind.IDEA: ("belief",),
    RootKind.SET_UP: ("set-up",),
    RootKind.BODY: ("body limit",),
    RootKind.BACKSWING: ("backswing",),
}


def node_or_none(key: str, found: CauseMap | None = None) -> Node | None:
    """``found``: the camp's map; the shipped one if not given."""
    return (found or cause_map()).nodes.get(key)


def mechanism_nodes(found: CauseMap | None = None) -> list[Node]:
    """What the club did, nearest to the ball first."""
    nodes = (found or cause_map()).nodes.values()
    return [node for kind in MECHANISM_KINDS for node in nodes if node.kind == kind]


def root_nodes(root_kind: str, found: CauseMap | None = None) -> list[Node]:
    kinds = ROOT_KINDS.get(root_kind, ())
    return [node for node in (found or cause_map()).nodes.values() if node.kind in kinds]


def root_kind_of(node: Node | None) -> str:
    """The kind of root that a node is; empty for what is none."""
    return next((kind for kind, kinds in ROOT_KINDS.items() if node is not None and node.kind in kinds), "")
