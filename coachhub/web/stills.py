"""Pictures of a swing's events, made by the worker that measured it: what there is of them, and how they are said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from coachhub.swings.enums import SwingEvent
from coachhub.swings.models import Readout
from coachhub.web.words import event_label

# A picture shows the frame nearest to its event; set further away than this by a coach, it is another event's.
SAME_FRAME_S = 0.02


@dataclass(frozen=True)
class Still:
    """One event as a picture; ``kind`` is None where there is none, and ``why`` says so."""

    event: str
    label: str
    readout: Readout
    t_us: int | None
    kind: str | None
    alt: str = ""
    why: str = ""
    width: int = 0
    height: int = 0


@dataclass(frozen=True)
class EventSheet:
    """All events of a swing in order."""

    readout: Readout
    stills: tuple[Still, ...]

    def at(self, events: Iterable[str]) -> tuple[Still, ...]:
        """The pictures of these events, each once, in the swing's order."""
        wanted = set(events)
        return tuple(still for still in self.stills if still.event in wanted and still.kind)


def event_sheet_of(readout: Readout, name: str) -> EventSheet | None:
    """None for a readout without pictures: an older version's, or a clip that could not be opened again."""
    pictures = readout.data.get("pictures")
    if not pictures or not readout.run.result_key:
        return None
    found: dict[str, Any] = readout.data.get("events", {})
    stills = [_still(event, found.get(event), pictures, readout, name) for event in SwingEvent.values]
    return EventSheet(readout, tuple(stills))


def _still(
    event: str, found: dict[str, Any] | None, pictures: dict[str, Any], readout: Readout, name: str
) -> Still:
    label, made = event_label(event), pictures["stills"].get(event)
    if found is None or found.get("t") is None:
        return Still(event, label, readout, None, None, why="not found in this clip")
    t_s = float(found["t"])
    t_us = round(t_s * 1e6)
    if made is None:
        return Still(event, label, readout, t_us, None, why="no picture")
    if abs(float(made["t"]) - t_s) > SAME_FRAME_S:
        why = f"set to {t_s:.2f} s by a coach: see it in the player"
        return Still(event, label, readout, t_us, None, why=why)
    alt = f"{label.capitalize()} at {t_s:.2f} s, {name}: the golfer with body lines and shaft"
    size = int(pictures["width"]), int(pictures["height"])
    return Still(event, label, readout, t_us, f"readout.still.{event}", alt, "", *size)


def sheet_key(readout: Readout) -> str:
    """Where the sheet is stored; empty if there is none. Names are ours, never the measuring child's."""
    return _key(readout, f"sheet_{_number(readout)}.jpg") if readout.data.get("pictures") else ""


def still_key(readout: Readout, event: str) -> str:
    """Where the picture of an event is stored; empty if there is none."""
    made = (readout.data.get("pictures") or {}).get("stills", {})
    return _key(readout, f"still_{_number(readout)}_{event}.jpg") if event in made else ""


def _number(readout: Readout) -> int:
    return int(readout.data.get("run_swing", readout.swing.number))


def _key(readout: Readout, file: str) -> str:
    return f"{readout.run.result_key}/{file}" if readout.run.result_key else ""
