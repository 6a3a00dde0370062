"""From a reported miss to nodes of the cause map, lead and trail instead of left and right."""

from __future__ import annotations

from analysis.causes.case import Miss
from analysis.flight import Inference, infer_signs, lead_or_trail

LEAD, STRAIGHT, TRAIL = "lead", "straight", "trail"

# Start and curve to the node of the flight; None: not said.
_FLIGHTS: dict[tuple[str | None, str | None], str] = {
    (LEAD, STRAIGHT): "bf_pull",
    (LEAD, TRAIL): "bf_pull_slice",
    (LEAD, LEAD): "bf_pull_hook",
    (STRAIGHT, TRAIL): "bf_slice",
    (STRAIGHT, LEAD): "bf_hook",
    (TRAIL, STRAIGHT): "bf_push",
    (TRAIL, TRAIL): "bf_push_slice",
    (TRAIL, LEAD): "bf_hook",
    (None, TRAIL): "bf_slice",
    (None, LEAD): "bf_hook",
    (LEAD, None): "bf_pull",
    (TRAIL, None): "bf_push",
}
_STRIKES = {"fat": "bf_fat", "thin": "bf_thin", "top": "bf_top", "heel": "im_heel_strike"}
_HEIGHTS = {"high": "bf_high_weak"}
_INFERRED = {
    ("face_to_path", TRAIL): "im_face_open",
    ("face_to_path", LEAD): "im_face_closed",
    ("face_to_target", TRAIL): "im_face_open_target",
    ("face_to_target", LEAD): "im_face_closed_target",
    ("path_to_target", LEAD): "im_path_left",
    ("path_to_target", TRAIL): "im_path_right",
}


def reported_nodes(miss: Miss, handedness: str) -> tuple[str, ...]:
    """Nodes that the student reported: the flight, the strike, the height.

    Parameters
    ----------
    miss : Miss
    handedness : {"right", "left"}

    Returns
    -------
    tuple of str
        In this order; a clean strike, a toe strike, a usual or low height have no node.
    """
    start, curve = _sides(miss, handedness)
    both = "both" in (miss.start, miss.curve)
    flown = "bf_two_way" if both else _FLIGHTS.get((start, curve))
    found = (flown, _STRIKES.get(miss.strike or ""), _HEIGHTS.get(miss.height or ""))
    return tuple(node for node in found if node)


def inferred_nodes(miss: Miss, handedness: str) -> tuple[str, ...]:
    """What face and path did, as far as the signs of start and curve say; nothing after a heel or toe strike.

    Parameters
    ----------
    miss : Miss
    handedness : {"right", "left"}

    Returns
    -------
    tuple of str
        Impact nodes. Physics of a centred strike, see ``flight.infer_signs``.
    """
    centred = miss.strike not in ("heel", "toe")
    found: Inference = infer_signs(_one_way(miss.start), _one_way(miss.curve), centred=centred)
    said = {name: getattr(found, name) for name in ("face_to_path", "face_to_target", "path_to_target")}
    sides = ((name, lead_or_trail(side, handedness)) for name, side in said.items() if side)
    return tuple(_INFERRED[pair] for pair in sides if pair in _INFERRED)


def _sides(miss: Miss, handedness: str) -> tuple[str | None, str | None]:
    start, curve = _one_way(miss.start), _one_way(miss.curve)
    return (
        lead_or_trail(start, handedness) if start else None,
        lead_or_trail(curve, handedness) if curve else None,
    )


def _one_way(side: str | None) -> str | None:
    if side == "both":
        return None
    return STRAIGHT if side == "none" else side
