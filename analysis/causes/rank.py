"""From a case to ranked possible roots, each with its reasons.

The score of a root is a plain sum, so that a coach can follow it: what was seen of the root itself, the student's
own answer where it names the idea, and for each thing seen, reported or inferred its weight times the strength of
the strongest path from the root to it. The weights stand in ``evidence`` and ``paths``: own choices, no study.
Nothing is subtracted; a path through something measured and not seen counts half, what the coach ruled out carries
no path. Possible causes by coaches' practice (mostly grade C), never findings: the coach decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.causes.care import care_for
from analysis.causes.case import Case
from analysis.causes.clubs import for_club
from analysis.causes.evidence import DOUBT, SEEN, Observed, SetAside, Weighed, weigh
from analysis.causes.graph import CauseMap, Edge, Idea, check
from analysis.causes.paths import Onward, Path, edges_onward, strongest_paths
from analysis.causes.questions import Question, best_clue, question_about
from analysis.causes.store import cause_map

ROOT_KINDS: Mapping[str, str] = {
    "belief": "idea",
    "set-up": "set_up",
    "backswing": "backswing",
    "body limit": "body",
}
SHOWN = 3
# A root with less than this explains too little to be named.
LEAST_SCORE = 0.1


@dataclass(frozen=True, slots=True)
class Contribution:
    """One summand of a root's score: ``amount`` = weight of ``observed`` x ``path.strength``."""

    observed: Observed
    path: Path
    amount: float


@dataclass(frozen=True, slots=True)
class Root:
    """A possible root.

    Attributes
    ----------
    key, label : str
        Node of the map.
    kind : {"idea", "set_up", "backswing", "body"}
    score : float
        Sum of the contributions.
    contributions : tuple of Contribution
        Largest first.
    question : Question
        What finds out whether it is so.
    clue : Question or None
        What would speak for it more than for the other roots shown.
    rank_if_so : int
        Its place (from 1) if the question were answered with yes.
    taught_by : tuple of Edge
        What the reported miss may itself have taught the student.
    idea : Idea or None
        For a belief: how to talk about it.
    better_idea : str
        For a belief: the better idea with the club of this case.
    care : str
        Why no drill may be suggested; empty if one may.
    """

    key: str
    label: str
    kind: str
    score: float
    contributions: tuple[Contribution, ...]
    question: Question
    clue: Question | None
    rank_if_so: int
    taught_by: tuple[Edge, ...]
    idea: Idea | None
    better_idea: str
    care: str

    @property
    def may_drill(self) -> bool:
        """Whether a drill may be suggested for it; never for the body or with pain."""
        return not self.care

    @property
    def paths(self) -> tuple[Path, ...]:
        """The ways from this root to what was seen."""
        return tuple(part.path for part in self.contributions if part.path.edges)


@dataclass(frozen=True, slots=True)
class Ranking:
    """Possible roots, best first.

    Attributes
    ----------
    roots : tuple of Root
        At most as many as asked for.
    further : int
        How many more reached the least score.
    unexplained : tuple of str
        Nodes observed to which no shown root leads.
    set_aside : tuple of SetAside
        What does not count with this club, or is not for the map.
    """

    roots: tuple[Root, ...]
    further: int
    unexplained: tuple[str, ...]
    set_aside: tuple[SetAside, ...]


@dataclass(frozen=True, slots=True)
class _Scored:
    key: str
    parts: tuple[Contribution, ...]
    reached: Mapping[str, Path]

    @property
    def score(self) -> float:
        return sum(part.amount for part in self.parts)


def rank(case: Case, *, shown: int = SHOWN, found: CauseMap | None = None) -> Ranking:
    """Possible roots of a case, ranked.

    Parameters
    ----------
    case : Case
    shown : int
        How many roots at most, at least 1.
    found : CauseMap, optional
        The map; the package's own if not given. It is checked, circles are refused.

    Returns
    -------
    Ranking
        The same for the same case, always. Equal scores: ideas, set-up, backswing, body; then the map's order.

    Raises
    ------
    ValueError
        If the case names something that is not on the map, the map is unsound, or ``shown`` is below 1.
    """
    if shown < 1:
        raise ValueError(f"shown must be at least 1, got {shown}")
    whole = cause_map() if found is None else check(found)
    weighed = weigh(case, whole)
    usable = for_club(whole, case.club_class)
    ranked = _ranked(weighed, usable)
    kept = ranked[:shown]
    known = frozenset({*weighed.observed, *weighed.unseen, *weighed.ruled_out})
    reached = {scored.key: scored.reached for scored in kept}
    roots = tuple(
        _root(
            scored,
            case,
            usable,
            weighed,
            _place_if_so(scored, ranked),
            best_clue(scored.key, reached, known, case, usable),
        )
        for scored in kept
    )
    explained = {part.observed.node for root in roots for part in root.contributions}
    missing = tuple(node for node in weighed.observed if node not in explained)
    return Ranking(roots, len(ranked) - len(kept), missing, weighed.set_aside)


def _ranked(weighed: Weighed, found: CauseMap) -> list[_Scored]:
    order = {key: number for number, key in enumerate(found.nodes)}
    kinds = list(ROOT_KINDS)
    onward = edges_onward(found, weighed.ruled_out)
    scored = [
        _scored(key, weighed, onward)
        for key, node in found.nodes.items()
        if node.kind in ROOT_KINDS and key not in weighed.ruled_out
    ]
    named = [each for each in scored if each.score >= LEAST_SCORE]
    return sorted(
        named,
        key=lambda each: (-round(each.score, 9), kinds.index(found.nodes[each.key].kind), order[each.key]),
    )


def _scored(key: str, weighed: Weighed, onward: Onward) -> _Scored:
    reached = strongest_paths(onward, key, unseen=weighed.unseen)
    own = DOUBT if key in weighed.unseen else 1.0
    parts = [
        Contribution(piece, Path((), 1.0), piece.weight)
        for piece in (weighed.observed.get(key), weighed.stated.get(key))
        if piece is not None
    ]
    parts += [
        Contribution(piece, reached[node], own * piece.weight * reached[node].strength)
        for node, piece in weighed.observed.items()
        if node in reached
    ]
    parts.sort(key=lambda part: (-round(part.amount, 9), part.observed.node))
    return _Scored(key, tuple(parts), reached)


def _place_if_so(scored: _Scored, ranked: list[_Scored]) -> int:
    """Place of a root if it were seen itself; its own evidence so far is replaced, not added to."""
    so_far = sum(part.amount for part in scored.parts if not part.path.edges)
    if_so = scored.score + max(0.0, SEEN - so_far)
    return 1 + sum(other.key != scored.key and other.score > if_so for other in ranked)


def _root(
    scored: _Scored, case: Case, found: CauseMap, weighed: Weighed, place_if_so: int, clue: Question | None
) -> Root:
    node, idea = found.nodes[scored.key], found.ideas.get(scored.key)
    taught = (edge for edge in found.causes_of(scored.key) if edge.relation == "feedback")
    return Root(
        key=node.key,
        label=node.label,
        kind=ROOT_KINDS[node.kind],
        score=scored.score,
        contributions=scored.parts,
        question=question_about(node.key, case, found),
        clue=clue,
        rank_if_so=place_if_so,
        taught_by=tuple(edge for edge in taught if edge.cause in weighed.observed),
        idea=idea,
        better_idea=_better_idea(idea, case.club_class),
        care=care_for(node, case, leaning_back="bs_reverse_tilt" in weighed.observed),
    )


def _better_idea(idea: Idea | None, club_class: str) -> str:
    if idea is None:
        return ""
    special = club_class == "driver" and idea.better_idea_driver != "the same"
    return idea.better_idea_driver if special else idea.better_idea
