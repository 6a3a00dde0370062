"""The time line of a talk-through: what the coach showed and drew, at any moment of the sound."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

Event = Mapping[str, Any]
LAYERS = ("body", "shaft", "drawings")


@dataclass(frozen=True, slots=True)
class TalkState:
    """What is on screen.

    Attributes
    ----------
    place : dict or None
        ``swing`` (id), ``us`` (int, microseconds of the clip) and ``rate`` (0 stands, below 0 runs backwards) as
        noted at `placed_ms`.
    placed_ms : int
        Milliseconds of the talk.
    marks : tuple of dict
        Drawings; points in shares of the picture's width and height, 0..1.
    growing : dict or None
        The stroke under the pen.
    pair : dict or None
        The comparison that is open.
    layers : dict of str to bool
        Which of `LAYERS` are shown.
    """

    place: dict[str, Any] | None = None
    placed_ms: int = 0
    marks: tuple[dict[str, Any], ...] = ()
    growing: dict[str, Any] | None = None
    pair: dict[str, Any] | None = None
    layers: dict[str, bool] = field(default_factory=lambda: dict.fromkeys(LAYERS, True))


def after(state: TalkState, event: Event) -> TalkState:
    """The state once an event has happened.

    Parameters
    ----------
    state : TalkState
    event : mapping
        ``ms``, ``kind`` and what belongs to the kind.

    Raises
    ------
    ValueError
        If the kind is unknown.
    """
    kind = event["kind"]
    if kind == "place":
        place = {name: event[name] for name in ("swing", "us", "rate")}
        return replace(state, place=place, placed_ms=event["ms"])
    if kind == "put":
        return replace(state, marks=(*_without(state, event["mark"]["uid"]), event["mark"]), growing=None)
    if kind == "gone":
        return replace(state, marks=_without(state, event["uid"]))
    if kind == "grow":
        return replace(state, growing=event["mark"])
    if kind == "more":
        grown = state.growing and {**state.growing, "points": [*state.growing["points"], *event["points"]]}
        return replace(state, growing=grown)
    if kind == "pair":
        return replace(state, pair=event["pair"])
    if kind == "other":
        return replace(state, pair=state.pair and {**state.pair, "other_us": event["us"]})
    if kind == "layers":
        return replace(state, layers={name: bool(event[name]) for name in LAYERS})
    if kind == "clear":
        return TalkState(place=state.place, placed_ms=state.placed_ms)
    raise ValueError(f"kind must be one a talk knows, got {kind!r}")


def _without(state: TalkState, uid: str) -> tuple[dict[str, Any], ...]:
    return tuple(mark for mark in state.marks if mark["uid"] != uid)


def place_at(state: TalkState, ms: float) -> dict[str, Any] | None:
    """Where the picture stands at a time: the noted place carried on at its rate; None before any is noted."""
    if state.place is None:
        return None
    passed_us = max(0.0, ms - state.placed_ms) * 1000 * state.place["rate"]
    return {**state.place, "us": round(state.place["us"] + passed_us)}


def shown_marks(state: TalkState) -> list[dict[str, Any]]:
    """Drawings to be seen, the growing one last; none while their layer is off."""
    if not state.layers["drawings"]:
        return []
    if state.growing is None:
        return list(state.marks)
    return [*_without(state, state.growing["uid"]), state.growing]


class TalkReader:
    """Asks a time line forwards cheaply, and anywhere at all.

    Parameters
    ----------
    events : sequence of mapping
        In order of ``ms``.
    """

    def __init__(self, events: Sequence[Event]) -> None:
        self._events = events
        self._rewind()

    def _rewind(self) -> None:
        self._next = 0
        self._state = TalkState()
        self._read_ms = -1.0

    def at(self, ms: float) -> TalkState:
        """The state at `ms` milliseconds of the talk."""
        if ms < self._read_ms:
            self._rewind()
        self._read_ms = ms
        while self._next < len(self._events) and self._events[self._next]["ms"] <= ms:
            self._state = after(self._state, self._events[self._next])
            self._next += 1
        return self._state
