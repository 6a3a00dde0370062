"""From a case to weighted nodes: what was seen, reported or said, what was ruled out, what doesn't count."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from analysis.causes.case import CONFIRMED, DISMISSED, STATES, Case, SeenSign
from analysis.causes.clubs import NO_FAULT, RIGHT_IN_PART
from analysis.causes.graph import CauseMap
from analysis.causes.misses import inferred_nodes, reported_nodes
from analysis.types import LIKELY, NOT_SEEN, POSSIBLE

SIGN_NODES: Mapping[str, str] = {
    "early_release": "ds_early_release",
    "stalled_finish": "fin_stalled",
    "steep_plane": "ds_steep",
    "over_the_top": "ds_ott",
    "reverse_spine_tilt": "bs_reverse_tilt",
    "overlong_backswing": "bs_overlong",
    "poor_hinge": "bs_poor_hinge",
    "sway": "bs_sway",
    "slide": "ds_slide",
    "hanging_back": "im_hang_back",
    "early_extension": "ds_early_extension",
    "lead_arm_collapse": "im_lead_arm_collapse",
}
# How much a piece of evidence counts. Own choice, no study: the coach's eye most, then the student's idea and
# report, then what follows from the report by geometry. A machine's sign counts with its probability.
SEEN, STATED, REPORTED, INFERRED = 1.0, 0.6, 0.6, 0.4
# A path through something that was measured and not seen is half as believable.
DOUBT = 0.5


@dataclass(frozen=True, slots=True)
class Observed:
    """A node with its weight 0..1 and where it comes from."""

    node: str
    weight: float
    source: str


@dataclass(frozen=True, slots=True)
class SetAside:
    """A piece of the case that counts for nothing here, and why."""

    node: str
    reason: str


@dataclass(frozen=True, slots=True)
class Weighed:
    """The case on the map.

    Attributes
    ----------
    observed : mapping of str to Observed
        At most one a node, the heaviest.
    stated : mapping of str to Observed
        Belief nodes the student's answer stands for.
    unseen, ruled_out : frozenset of str
        Measured and not seen; dismissed by the coach.
    set_aside : tuple of SetAside
    """

    observed: Mapping[str, Observed]
    stated: Mapping[str, Observed]
    unseen: frozenset[str]
    ruled_out: frozenset[str]
    set_aside: tuple[SetAside, ...]


def weigh(case: Case, found: CauseMap) -> Weighed:
    """Weighted nodes of a case.

    Parameters
    ----------
    case : Case
    found : CauseMap
        The whole map, not the one of a club.

    Returns
    -------
    Weighed

    Raises
    ------
    ValueError
        If an observation is no node, or a belief no belief node, of the map.
    """
    _check_nodes(case, found)
    signs = _counting_signs(case.signs)
    observed = _heaviest(_pieces(case, signs))
    aside = dict(_set_aside(case, observed, found))
    return Weighed(
        observed={key: piece for key, piece in observed.items() if key not in aside},
        stated={
            key: Observed(key, STATED, "the student's answer")
            for key in dict.fromkeys(case.beliefs)
            if key not in aside
        },
        unseen=_nodes_in(signs, NOT_SEEN) - set(observed),
        ruled_out=(_nodes_in(signs, DISMISSED) | set(case.ruled_out)) - set(case.observations),
        set_aside=tuple(SetAside(key, reason) for key, reason in aside.items()),
    )


def _counting_signs(signs: tuple[SeenSign, ...]) -> dict[str, SeenSign]:
    """One word for each sign: the coach's first, then the machine's strongest."""
    ranked = sorted(signs, key=lambda sign: (STATES.index(sign.state), -(sign.p or 0.0), sign.key))
    found: dict[str, SeenSign] = {}
    for sign in ranked:
        found.setdefault(sign.key, sign)
    return found


def _pieces(case: Case, signs: Mapping[str, SeenSign]) -> Iterator[Observed]:
    for node in case.observations:
        yield Observed(node, SEEN, "seen by the coach")
    for sign in signs.values():
        node = SIGN_NODES[sign.key]
        if sign.state == CONFIRMED:
            yield Observed(node, SEEN, "confirmed by the coach")
        elif sign.state in (LIKELY, POSSIBLE) and sign.p is not None:
            yield Observed(node, sign.p, f"{sign.state}, p = {sign.p:.2f}")
    for node in reported_nodes(case.miss, case.handedness):
        yield Observed(node, REPORTED, "the student's report")
    for node in inferred_nodes(case.miss, case.handedness):
        yield Observed(node, INFERRED, "follows from the reported start and curve")


def _heaviest(pieces: Iterator[Observed]) -> dict[str, Observed]:
    found: dict[str, Observed] = {}
    for piece in pieces:
        if piece.node not in found or piece.weight > found[piece.node].weight:
            found[piece.node] = piece
    return found


def _set_aside(case: Case, observed: Mapping[str, Observed], found: CauseMap) -> Iterator[tuple[str, str]]:
    no_fault = NO_FAULT.get(case.club_class, {})
    half_right = RIGHT_IN_PART.get(case.club_class, {})
    for key in observed:
        if key in no_fault:
            yield key, no_fault[key]
        elif found.nodes[key].kind == "health":
            yield key, "a matter for a clinician: it is not put down to a swing"
    for key in case.beliefs:
        if key in half_right:
            yield key, half_right[key]


def _nodes_in(signs: Mapping[str, SeenSign], state: str) -> frozenset[str]:
    return frozenset(SIGN_NODES[sign.key] for sign in signs.values() if sign.state == state)


def _check_nodes(case: Case, found: CauseMap) -> None:
    for name in ("observations", "ruled_out", "beliefs"):
        for key in getattr(case, name):
            if key not in found.nodes:
                raise ValueError(f"{name} must be nodes of the cause map, not {key!r}")
    for key in case.beliefs:
        if found.nodes[key].kind != "belief":
            raise ValueError(f"beliefs must be belief nodes, {key!r} is of kind {found.nodes[key].kind!r}")
