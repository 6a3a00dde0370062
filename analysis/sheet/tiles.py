"""The words of an event sheet: one tile per event, missing ones included."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.metrics.registry import ALL
from analysis.numbers import number_words
from analysis.readout import SwingReadout
from analysis.types import EVENTS, LIKELY, POSSIBLE, Metric

MOST_NUMBERS = 3
NO_BREAK = "\u00a0"
EVENT_TITLES: Mapping[str, str] = {
    "address": "Address",
    "takeaway": "Takeaway",
    "shaft_parallel_back": "Shaft parallel, back",
    "lead_arm_parallel_back": "Lead arm parallel, back",
    "top": "Top",
    "lead_arm_parallel_down": "Lead arm parallel, down",
    "delivery_shaft_parallel": "Delivery: shaft parallel",
    "impact": "Impact",
    "shaft_parallel_through": "Shaft parallel, through",
    "finish": "Finish",
}
_SPECS = {row.name: row for row in ALL}
# What a title says of its event goes without saying under the event's picture.
_ENDINGS = (
    " at address",
    " at the top",
    " at delivery",
    " at impact",
    " at the finish",
    ", lead arm parallel back",
    ", lead arm parallel down",
    " to lead arm parallel down",
    ", address to top",
    ", address to impact",
)


@dataclass(frozen=True, slots=True)
class Tile:
    """One event: its title, its time (None where it was not found), what to say of the time, and key numbers."""

    event: str
    title: str
    t_s: float | None
    time_words: str
    numbers: tuple[str, ...]


def tiles_of(swing: SwingReadout) -> tuple[Tile, ...]:
    """One tile for each event a swing can have, in order.

    Parameters
    ----------
    swing : SwingReadout

    Returns
    -------
    tuple of Tile
        As many as ``EVENTS``.
    """
    return tuple(_tile(swing, name) for name in EVENTS)


def _tile(swing: SwingReadout, name: str) -> Tile:
    event = swing.events.get(name)
    if event is None:
        return Tile(name, EVENT_TITLES[name], None, "not found in this clip", ())
    words = f"{event.t_s:.3f} s ± {1.96 * event.se_s * 1000:.0f} ms"
    return Tile(name, EVENT_TITLES[name], event.t_s, words, tuple(_numbers(swing, name)))


def _numbers(swing: SwingReadout, event: str) -> list[str]:
    """Numbers that end at this event: those behind a sign first, then those of this event alone, times last."""
    behind = {
        term.metric
        for sign in swing.signs.values()
        if sign.level in (LIKELY, POSSIBLE)
        for term in sign.evidence
    }
    here = [m for m in swing.metrics.values() if m.value is not None and m.at and m.at[-1] == event]
    here.sort(key=lambda m: (m.name not in behind, m.unit in ("s", "1"), m.at != (event,)))
    return [_words(metric) for metric in here[:MOST_NUMBERS]]


def _words(metric: Metric) -> str:
    title = _SPECS[metric.name].title if metric.name in _SPECS else metric.name.replace("_", " ")
    for ending in _ENDINGS:
        title = title.removesuffix(ending)
    assert metric.value is not None
    # A number is not broken into two lines.
    number = number_words(metric.value, metric.se, metric.unit).replace(" ", NO_BREAK)
    return f"{title} {number}"
