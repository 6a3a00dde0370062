"""What to ask, film or look at next: what would change the ranking."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.causes.case import Case
from analysis.causes.graph import CauseMap, Node
from analysis.causes.paths import Path
from analysis.types import DOWN_THE_LINE, FACE_ON

ASK, FILM, LOOK, PHOTO, TEST = "ask", "film", "look", "photo", "test"
_VIEW_WORDS = {FACE_ON: "face-on", DOWN_THE_LINE: "down-the-line"}
_GRIP = frozenset({"set_grip_weak", "set_grip_palm"})
# A clue has to be this much more expected under one root than under the others.
LEAST_DIFFERENCE = 0.1
_CLUE_KINDS = frozenset({"set-up", "backswing", "transition", "downswing", "impact", "finish"})


@dataclass(frozen=True, slots=True)
class Question:
    """A next step: ``how`` is ``ask``, ``film``, ``look``, ``photo`` or ``test``; ``node`` is what it decides."""

    how: str
    node: str
    text: str


def question_about(key: str, case: Case, found: CauseMap) -> Question:
    """How to find out whether a root is so.

    Parameters
    ----------
    key : str
        Node of the map.
    case : Case
        For the views that were filmed.
    found : CauseMap

    Returns
    -------
    Question
        A belief is asked with the map's own question; a body limit is for a qualified person to test.
    """
    node = found.nodes[key]
    if key in found.ideas:
        return Question(ASK, key, found.ideas[key].ask)
    if node.kind == "body limit":
        return Question(TEST, key, f"{_capital(node.label)}: for a qualified person to test, not from video.")
    if key in _GRIP:
        return Question(PHOTO, key, f"Ask for a photo of the grip and look at: {node.seen_by}.")
    return _picture(node, case)


def best_clue(
    key: str, reached: Mapping[str, Mapping[str, Path]], known: frozenset[str], case: Case, found: CauseMap
) -> Question | None:
    """What to look for that speaks for this root more than for its rivals.

    Parameters
    ----------
    key : str
        The root.
    reached : mapping
        For the root and each rival: where its paths lead.
    known : frozenset of str
        Nodes already seen, not seen or ruled out.
    case : Case
    found : CauseMap

    Returns
    -------
    Question or None
        None where no single thing would tell them apart.
    """
    rivals = [paths for other, paths in reached.items() if other != key]
    gains = {
        node: path.strength - max((_strength(paths, node) for paths in rivals), default=0.0)
        for node, path in reached[key].items()
        if node not in known and found.nodes[node].kind in _CLUE_KINDS
    }
    best = min(gains, key=lambda node: (-round(gains[node], 9), node), default=None)
    if best is None or gains[best] < LEAST_DIFFERENCE:
        return None
    return question_about(best, case, found)


def _strength(paths: Mapping[str, Path], node: str) -> float:
    return paths[node].strength if node in paths else 0.0


def _picture(node: Node, case: Case) -> Question:
    if node.view in _VIEW_WORDS and node.view not in case.views:
        return Question(FILM, node.key, f"Film {_VIEW_WORDS[node.view]} and look at: {node.seen_by}.")
    return Question(LOOK, node.key, f"Look for {node.label}: {node.seen_by}.")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
