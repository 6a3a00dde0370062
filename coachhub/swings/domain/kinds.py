"""Strikes and practice swings, as measured: which to show first, and how to say so."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from analysis.strike import PRACTICE
from coachhub.swings.models import Readout, Swing


def is_practice(readout: Readout | None) -> bool:
    """Readouts from before swings were told apart say nothing, and count as strikes."""
    return readout is not None and (readout.data.get("strike") or {}).get("kind") == PRACTICE


def name_tail(readout: Readout | None) -> str:
    """What a swing's name gets behind it."""
    return " (practice swing)" if is_practice(readout) else ""


def practice_sentence(readout: Readout) -> str:
    """Why it is taken for a practice swing, as a sentence; empty for any other."""
    if not is_practice(readout):
        return ""
    why = str(readout.data["strike"].get("why", ""))
    return f"Taken for a practice swing: {why}."


def practice_last(swings: Iterable[Swing], readout_of: Callable[[Swing], Readout | None]) -> list[Swing]:
    """The swings of a clip, those that hit a ball first, otherwise in order of time."""
    return sorted(swings, key=lambda swing: (is_practice(readout_of(swing)), swing.number))
