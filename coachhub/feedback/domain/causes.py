"""The cause map as the coach's choices."""

from __future__ import annotations

from analysis.causes import Node, cause_map
from coachhub.feedback.enums import RootKind

__all__ = ["Node", "mechanism_nodes", "node_or_none", "root_nodes"]

MECHANISM_KINDS = ("impact", "downswing", "transition", "finish")
ROOT_KINDS: dict[str, tuple[str, ...]] = {
    RootKind.IDEA: ("belief",),
    RootKind.SET_UP: ("set-up",),
    RootKind.BODY: ("body limit",),
    RootKind.BACKSWING: ("backswing",),
}


def node_or_none(key: str) -> Node | None:
    return cause_map().nodes.get(key)


def mechanism_nodes() -> list[Node]:
    """What the club did, nearest to the ball first."""
    nodes = cause_map().nodes.values()
    return [node for kind in MECHANISM_KINDS for node in nodes if node.kind == kind]


def root_nodes(root_kind: str) -> list[Node]:
    kinds = ROOT_KINDS.get(root_kind, ())
    return [node for node in cause_map().nodes.values() if node.kind in kinds]
