"""When no drill may be suggested for a root. Says nothing of drills themselves, and is no diagnosis."""

from __future__ import annotations

from analysis.causes.case import Case
from analysis.causes.graph import Node

PAIN = "Pain was reported: no drill from here. Stop what hurts; a clinician comes first."
BODY = "A body limit is not drilled away: a qualified person looks at it first."
BACK_FIRST = (
    "The upper body leans to the target at the top and the pain question is open: "
    "ask about the lower back before any drill."
)
_BACK = "bs_reverse_tilt"


def care_for(root: Node, case: Case, *, leaning_back: bool) -> str:
    """Why no drill may be suggested for this root, or an empty string.

    Parameters
    ----------
    root : Node
    case : Case
    leaning_back : bool
        Whether a reverse tilt was seen in this case.

    Returns
    -------
    str
        A sentence for the coach.
    """
    if case.pain:
        return PAIN
    if root.kind == "body limit":
        return BODY
    if case.pain is None and (leaning_back or root.key == _BACK):
        return BACK_FIRST
    return ""
