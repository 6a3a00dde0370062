"""The measured side of the desk, in words: signs with their evidence, events, numbers, and what can't be seen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from coachhub.swings.domain.kinds import is_practice, name_tail, practice_last, practice_sentence
from coachhub.swings.enums import SignKey, SignLevel, SwingEvent, Verdict
from coachhub.swings.models import Readout, SignJudgement, Swing
from coachhub.videos.enums import View
from coachhub.videos.models import Clip
from coachhub.web.player import readout_of
from coachhub.web.stills import EventSheet, Still, event_sheet_of
from coachhub.web.words import (
    METRIC_GROUPS,
    chance,
    event_label,
    measure,
    metric_definition,
    metric_group,
    metric_label,
    plain,
    sign_limits,
)

LEVEL_ORDER = (SignLevel.LIKELY, SignLevel.POSSIBLE, SignLevel.CANT_TELL, SignLevel.NOT_SEEN)
UNSEEN = (
    "One phone does not see pressure under the feet, the club face, the bend of the wrists, the low point, "
    "the angle of attack or the curve of the ball. The middle of the body's mass is not pressure. The measuring was "
    "checked on rendered clips with known truth; how accurate it is on real footage is not validated."
)


@dataclass(frozen=True)
class Term:
    """One number behind a sign."""

    text: str
    at_us: tuple[int, ...]
    at: tuple[str, ...]
    weight: str
    source: str


@dataclass(frozen=True)
class SignRow:
    key: str
    label: str
    level: str
    level_label: str
    chance: str
    note: str
    terms: tuple[Term, ...]
    unseen: tuple[str, ...]
    # Judged with bands that this camp set, not with the shipped ones.
    camp_bands: bool
    verdict: str
    others: tuple[str, ...]
    frames: tuple[Still, ...] = ()
    # What this view and frame rate can't show of it.
    limits: str = ""


@dataclass(frozen=True)
class EventRow:
    name: str
    label: str
    t_us: int
    time: str
    corrected: bool


@dataclass(frozen=True)
class NumberRow:
    label: str
    text: str
    reason: str
    definition: str


@dataclass(frozen=True)
class SwingCard:
    """All that is known of one swing, or why there is nothing."""

    id: str
    label: str
    measured: bool
    revision: int = 0
    problems: tuple[str, ...] = ()
    signs: tuple[SignRow, ...] = ()
    other_signs: tuple[SignRow, ...] = ()
    events: tuple[EventRow, ...] = ()
    missing_events: tuple[tuple[str, str], ...] = ()
    groups: tuple[tuple[str, tuple[NumberRow, ...]], ...] = ()
    sheet: EventSheet | None = None
    unseen: str = UNSEEN
    events_offered: tuple[tuple[str, str], ...] = field(
        default=tuple((str(value), str(label)) for value, label in SwingEvent.choices)
    )


def cards_of(clips: Iterable[Clip], by_id: int) -> list[SwingCard]:
    clips = list(clips)
    swings = [swing for clip in clips for swing in clip.swings.all()]
    judged: dict[int, list[SignJudgement]] = {}
    for judgement in SignJudgement.objects.filter(swing__in=swings).select_related("by").order_by("id"):
        judged.setdefault(judgement.swing_id, []).append(judgement)
    cards: list[SwingCard] = []
    for clip in clips:
        own = practice_last(clip.swings.all(), readout_of)
        if not own:
            cards.append(_unmeasured(str(clip.public_id), _name(clip, None, 1), clip))
        cards += [card_of(clip, swing, judged.get(swing.pk, []), by_id, len(own)) for swing in own]
    return cards


def card_of(clip: Clip, swing: Swing, judgements: list[SignJudgement], by_id: int, in_clip: int) -> SwingCard:
    readout = readout_of(swing)
    name = _name(clip, swing, in_clip) + name_tail(readout)
    if readout is None:
        return _unmeasured(str(swing.public_id), name, clip)
    data = readout.data
    sheet = event_sheet_of(readout, name)
    signs = [_with_frames(row, sheet) for row in _signs(data, judgements, by_id)]
    events = _events(data, swing)
    present = {event.name for event in events}
    return SwingCard(
        id=str(swing.public_id),
        label=name,
        measured=True,
        revision=readout.revision,
        problems=tuple(_problems(clip, readout)),
        signs=tuple(row for row in signs if _speaks_up(row)),
        other_signs=tuple(row for row in signs if not _speaks_up(row)),
        events=events,
        missing_events=tuple(
            (str(value), str(label)) for value, label in SwingEvent.choices if value not in present
        ),
        groups=_groups(data.get("metrics", {})),
        sheet=sheet,
    )


def _with_frames(row: SignRow, sheet: EventSheet | None) -> SignRow:
    """The pictures that a sign points at, where it says anything."""
    if sheet is None or row.level not in (SignLevel.LIKELY, SignLevel.POSSIBLE):
        return row
    return replace(row, frames=sheet.at(event for term in row.terms for event in term.at))


def _speaks_up(row: SignRow) -> bool:
    """Worth a place on the desk: found, half measured, or judged by the coach. The rest lies folded below."""
    silent = row.level == SignLevel.NOT_SEEN or (row.level == SignLevel.CANT_TELL and not row.terms)
    return bool(row.verdict) or not silent


def _name(clip: Clip, swing: Swing | None, in_clip: int) -> str:
    tail = f", swing {swing.number}" if swing and in_clip > 1 else ""
    return f"Clip {clip.number}, {View(clip.view).label}{tail}"


def _unmeasured(ident: str, name: str, clip: Clip) -> SwingCard:
    reasons = [str(warning.get("sentence", "")) for warning in clip.warnings]
    return SwingCard(
        id=ident,
        label=name,
        measured=False,
        problems=tuple(reasons) or ("There are no numbers for this clip. You can review it all the same.",),
    )


def _problems(clip: Clip, readout: Readout) -> list[str]:
    found = [practice_sentence(readout)] if is_practice(readout) else []
    found += [str(problem.get("sentence", "")) for problem in readout.data.get("problems", [])]
    found += [str(warning.get("sentence", "")) for warning in clip.warnings]
    return list(dict.fromkeys(sentence for sentence in found if sentence))


def _signs(data: dict[str, Any], judgements: list[SignJudgement], by_id: int) -> list[SignRow]:
    found: dict[str, Any] = data.get("signs", {})
    keys = [*found, *(str(key) for key in SignKey.values if key not in found)]
    rows = [
        replace(
            _sign(key, found.get(key), [j for j in judgements if j.sign == key], by_id),
            limits=sign_limits(key, data.get("view")),
        )
        for key in keys
    ]
    return sorted(rows, key=lambda row: (LEVEL_ORDER.index(SignLevel(row.level)), row.label))


def _sign(key: str, found: dict[str, Any] | None, judgements: list[SignJudgement], by_id: int) -> SignRow:
    found = found or {"level": SignLevel.NOT_SEEN, "p": None, "evidence": [], "note": "Not looked for here."}
    level = SignLevel(found["level"])
    # What the camp does not look for lies folded with what was not seen.
    evidence = [] if found.get("limit") == "off" else found.get("evidence") or []
    mine = next((judgement.verdict for judgement in judgements if judgement.by_id == by_id), "")
    return SignRow(
        key=key,
        label=str(SignKey(key).label) if key in SignKey.values else plain(key),
        level=str(level),
        level_label=str(level.label),
        chance=chance(found.get("p")),
        note=str(found.get("note") or ""),
        terms=tuple(_term(term) for term in evidence if term.get("value") is not None),
        unseen=tuple(_missing(term) for term in evidence if term.get("value") is None),
        camp_bands=found.get("bands") == "camp",
        verdict=mine,
        others=tuple(f"{j.by.name}: {Verdict(j.verdict).label}" for j in judgements if j.by_id != by_id),
    )


def _term(term: dict[str, Any]) -> Term:
    text = f"{metric_label(term['metric'])} {measure(term['value'], term.get('se'), term.get('unit') or '')}"
    return Term(
        text=text,
        at_us=tuple(round(time * 1e6) for time in term.get("times_s") or ()),
        at=tuple(term.get("at") or ()),
        weight=_speaks(term.get("support")),
        source=", ".join(str(term[key]) for key in ("grade", "source") if term.get(key)),
    )


def _speaks(support: float | None) -> str:
    if support is None:
        return ""
    if support >= 0.67:
        return "speaks for it"
    return "speaks against it" if support <= 0.33 else "leaves it open"


def _missing(term: dict[str, Any]) -> str:
    return f"{metric_label(term['metric'])}: {term.get('reason') or 'not measured'}"


def _events(data: dict[str, Any], swing: Swing) -> tuple[EventRow, ...]:
    corrected = {correction.event for correction in swing.corrections.all()}
    rows = [
        EventRow(
            name,
            event_label(name),
            round(found["t"] * 1e6),
            measure(found["t"], found.get("se"), "s", 3),
            name in corrected,
        )
        for name, found in data.get("events", {}).items()
        if found.get("t") is not None
    ]
    return tuple(sorted(rows, key=lambda row: row.t_us))


def _groups(metrics: dict[str, Any]) -> tuple[tuple[str, tuple[NumberRow, ...]], ...]:
    """By part of the swing; in each part what was measured comes before what could not be."""
    groups: dict[str, list[NumberRow]] = {part: [] for part in METRIC_GROUPS}
    for name, found in metrics.items():
        groups[metric_group(name)].append(_number(name, found))
    return tuple(
        (part, tuple(sorted(rows, key=lambda row: bool(row.reason)))) for part, rows in groups.items() if rows
    )


def _number(name: str, found: dict[str, Any]) -> NumberRow:
    label, definition = metric_label(name), metric_definition(name)
    if found.get("value") is None:
        return NumberRow(label, "", str(found.get("reason") or "not measured"), definition)
    text = measure(found["value"], found.get("se"), found.get("unit") or "")
    return NumberRow(label, text, "", definition)
