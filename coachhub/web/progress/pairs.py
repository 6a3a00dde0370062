"""The first range day beside the latest, as pictures and as words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from analysis.compare import Change
from coachhub.accounts.models import User
from coachhub.camps.models import Membership
from coachhub.progress import words
from coachhub.progress.domain.first_latest import Pair, Side, first_and_latest
from coachhub.swings.enums import SwingEvent
from coachhub.web.progress.labels import kind_words
from coachhub.web.progress.reading import Reading, numbers_of, reading_of
from coachhub.web.stills import EventSheet, Still, event_sheet_of
from coachhub.web.words import event_label, metric_label

EVENTS = (SwingEvent.ADDRESS, SwingEvent.TOP, SwingEvent.IMPACT, SwingEvent.FINISH)


@dataclass(frozen=True)
class Shown:
    """One of the two days."""

    day: date
    swings: int


@dataclass(frozen=True)
class Frame:
    """One event on both days; a side without a picture is None."""

    label: str
    first: Still | None
    latest: Still | None


@dataclass(frozen=True)
class Line:
    label: str
    first: str
    latest: str
    verdict: str


@dataclass(frozen=True)
class PairCard:
    key: str
    title: str
    first: Shown
    latest: Shown
    frames: tuple[Frame, ...]
    lines: tuple[Line, ...]
    has_films: bool


def pairs_for(place: Membership, reader: User) -> list[PairCard]:
    reading = reading_of(place, reader)
    return pair_cards(reading, numbers_of(reading.marks()))


def pair_cards(reading: Reading, metrics: set[str]) -> list[PairCard]:
    return [_card(pair) for pair in pairs_of(reading, metrics)]


def pairs_of(reading: Reading, metrics: set[str]) -> list[Pair]:
    """``metrics``: the numbers that stand beside the pictures, where this reader sees numbers at all."""
    place = reading.place
    shown = metrics if reading.shows_numbers else set()
    return first_and_latest(place.user, place.camp, shown, only_published=not reading.is_staff)


def _card(pair: Pair) -> PairCard:
    clips = (pair.first.readout.swing.clip, pair.latest.readout.swing.clip)
    return PairCard(
        key=pair.key,
        title=kind_words(pair.club_class, pair.view),
        first=Shown(pair.first.day, pair.first.swings),
        latest=Shown(pair.latest.day, pair.latest.swings),
        frames=tuple(_frames(pair)),
        lines=tuple(_line(change) for change in pair.changes),
        has_films=all(clip.rendition_key for clip in clips),
    )


def _frames(pair: Pair) -> Iterable[Frame]:
    sheets = (_sheet(pair.first), _sheet(pair.latest))
    for event in EVENTS:
        first, latest = (_still(sheet, event) for sheet in sheets)
        if first is not None or latest is not None:
            yield Frame(event_label(event), first, latest)


def _sheet(side: Side) -> EventSheet | None:
    return event_sheet_of(side.readout, words.day_words(side.day))


def _still(sheet: EventSheet | None, event: str) -> Still | None:
    found = sheet.at((event,)) if sheet is not None else ()
    return found[0] if found else None


def _line(change: Change) -> Line:
    width = change.detectable or 1.0
    return Line(
        label=metric_label(change.metric).capitalize(),
        first=_value(change.before, width, change.unit),
        latest=_value(change.after, width, change.unit),
        verdict=words.change_sentence(change),
    )


def _value(value: float | None, width: float, unit: str) -> str:
    return "–" if value is None else words.value_words(value, width, unit)
