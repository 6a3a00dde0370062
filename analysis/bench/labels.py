"""Which signs of a rendered clip are there, which are not, and which nobody should count.

There: the built-in fault's sign at amount 0.8 or more. Not there: that sign at amount 0.2 or less, and every
sign of a clean clip. Left out: the amounts between, where a coach might say either, and all other signs of
a faulty clip, since one fault drags others along (who hangs back also finishes behind the lead foot).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

# The rendered faults by their names in truth files, and the sign each stands for.
SIGN_OF_FAULT = {
    "early_release": "early_release",
    "stalled_finish": "stalled_finish",
    "steep": "steep_plane",
    "over_the_top": "over_the_top",
    "reverse_spine": "reverse_spine_tilt",
    "overlong": "overlong_backswing",
    "poor_hinge": "poor_hinge",
    "sway": "sway",
    "slide": "slide",
    "hanging_back": "hanging_back",
    "early_extension": "early_extension",
    "arm_collapse": "lead_arm_collapse",
}
FULL_AMOUNT, TRACE_AMOUNT = 0.8, 0.2


def own_sign(meta: Mapping[str, Any]) -> str | None:
    """The sign that the built-in fault stands for; None for a clean clip."""
    return SIGN_OF_FAULT.get(meta["fault"])


def truth_of_sign(meta: Mapping[str, Any], key: str) -> bool | None:
    """Whether the sign is there; None where it is left out.

    Parameters
    ----------
    meta : mapping
        ``fault`` and ``amount`` of a truth file.
    key : str
        One of ``signs.rules.KEYS``.
    """
    own = own_sign(meta)
    if own is None:
        return False
    if key != own:
        return None
    if meta["amount"] >= FULL_AMOUNT:
        return True
    return False if meta["amount"] <= TRACE_AMOUNT else None
