"""What the club in the hands changes on the cause map; everything else stays as it is.

A hybrid and a wedge are struck like an iron; a fairway wood too, when it lies on the turf. With a driver from a
tee the club may meet the ball on its way up. Common practice, no study (C); gear effect from memory (M).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from analysis.causes.graph import CauseMap
from analysis.types import CLUB_CLASSES

# Nodes that are no fault with this club, and why.
NO_FAULT: Mapping[str, Mapping[str, str]] = {
    "driver": {
        "im_attack_up_iron": "with a driver from a tee, level or a little up is right",
        "set_ball_far_fwd": "with a driver the ball belongs forward",
    }
}
# Ideas that are right in part with this club: the student's answer alone does not speak against them.
RIGHT_IN_PART: Mapping[str, Mapping[str, str]] = {
    "driver": {
        "bel_lift": "with a driver the ball may be met on the way up: the answer alone is no fault",
        "bel_weightback": "with a driver the upper body stays a little behind: the answer alone is no fault",
    }
}
# Edges that hold for some clubs only.
_WOODS = frozenset({"driver", "fairway"})
ONLY_FOR: Mapping[tuple[str, str], frozenset[str]] = {("im_heel_strike", "bf_slice"): _WOODS}


def for_club(found: CauseMap, club_class: str) -> CauseMap:
    """The map without what is no fault, or does not hold, with this club.

    Parameters
    ----------
    found : CauseMap
    club_class : str
        One of ``types.CLUB_CLASSES``.

    Returns
    -------
    CauseMap
        The given map is not changed.

    Raises
    ------
    ValueError
        If the club class is unknown.
    """
    if club_class not in CLUB_CLASSES:
        raise ValueError(f"club_class must be one of {CLUB_CLASSES}, got {club_class!r}")
    gone = NO_FAULT.get(club_class, {})
    nodes = {key: node for key, node in found.nodes.items() if key not in gone}
    edges = tuple(
        edge
        for edge in found.edges
        if edge.cause in nodes
        and edge.effect in nodes
        and club_class in ONLY_FOR.get((edge.cause, edge.effect), frozenset(CLUB_CLASSES))
    )
    return replace(found, nodes=nodes, edges=edges)
