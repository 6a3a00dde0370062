"""Two swings side by side, as plain data for the browser and as words for the page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from coachhub.accounts.models import User
from coachhub.feedback.domain.beside import EARLIER, LIBRARY, SESSION, Choice, current_readout, hand_in
from coachhub.feedback.domain.comparisons import GONE, map_data, numbers_beside, refusal
from coachhub.feedback.enums import Layout, Lock
from coachhub.feedback.models import Comparison, Review
from coachhub.swings.models import Readout, Swing
from coachhub.videos.enums import ClubClass
from coachhub.videos.models import Clip
from coachhub.web.player import PlayerSwing, pinned_swing, replay_of, whole_clip
from coachhub.web.words import measure, metric_label

GROUPS = ((SESSION, "This range session"), (EARLIER, "Earlier swings"), (LIBRARY, "Reference library"))


@dataclass(frozen=True)
class NumberRow:
    label: str
    here: str
    there: str
    difference: str
    detectable: str
    is_beyond: bool
    reason: str

    @property
    def verdict(self) -> str:
        return "more than measuring alone makes" if self.is_beyond else "no more than measuring alone makes"


@dataclass(frozen=True)
class Numbers:
    rows: tuple[NumberRow, ...]
    missing: tuple[NumberRow, ...]
    refusal: str
    cautions: tuple[str, ...]


def grouped(choices: Iterable[Choice]) -> list[tuple[str, list[Choice]]]:
    choices = list(choices)
    groups = [(label, [one for one in choices if one.kind == kind]) for kind, label in GROUPS]
    return [(label, found) for label, found in groups if found]


def beside_data(first: Swing | None, second: Choice, user: User, *, first_clip: Clip) -> dict[str, Any]:
    """What the desk needs to set ``second`` beside the swing under review, as both are measured now."""
    readouts = current_readout(first), current_readout(second.swing)
    hands = hand_in(first_clip), hand_in(second.clip)
    return {
        "swing": _player_swing(second, readouts[1], user, hands[1]),
        "words": second.words,
        "time_map": map_data(*readouts),
        "is_mirrored": hands[0] != hands[1],
        "numbers": numbers_of(
            numbers_beside(*readouts), refusal(*readouts), cautions(first_clip, second.clip, hands)
        ),
    }


def _player_swing(choice: Choice, readout: Readout | None, user: User, hand: str) -> PlayerSwing:
    if choice.swing is None:
        return whole_clip(choice.clip, user, hand)
    return pinned_swing(choice.swing, readout, user, hand=hand, label=choice.words)


def cautions(first: Clip, second: Clip, hands: tuple[str, str]) -> list[str]:
    """What makes the two unlike each other, to be said beside the pictures."""
    said = []
    if first.club_class != second.club_class:
        there = ClubClass(second.club_class).label if second.club_class else "no club"
        said.append(f"Another club: {ClubClass(first.club_class).label} here, {there} there.")
    if first.view != second.view:
        said.append("Two views of two swings: look at them beside each other; they are no one swing.")
    if hands[0] != hands[1]:
        said.append(f"One plays {hands[0]}-handed, the other {hands[1]}-handed: the other is shown mirrored.")
    return said


def numbers_of(plain: list[dict[str, Any]], refused: str, said: Iterable[str]) -> Numbers:
    rows = [_row(one) for one in plain]
    told = sorted((row for row in rows if not row.reason), key=lambda row: not row.is_beyond)
    return Numbers(tuple(told), tuple(row for row in rows if row.reason), refused, tuple(said))


def _row(change: dict[str, Any]) -> NumberRow:
    unit = change["unit"]

    def value(number: float | None) -> str:
        return "" if number is None else measure(number, None, unit, _digits(change))

    difference = value(change["difference"])
    return NumberRow(
        label=metric_label(change["metric"]),
        here=value(change["after"]),
        there=value(change["before"]),
        difference=difference if difference.startswith("−") or not difference else f"+{difference}",
        detectable=value(change["detectable"]),
        is_beyond=bool(change["is_beyond"]),
        reason=change["reason"] if change["difference"] is None else "",
    )


def _digits(change: dict[str, Any]) -> int:
    """As many as the smallest detectable difference allows."""
    size = abs(change["detectable"] or change["difference"] or 1)
    return 0 if size >= 2 else 1 if size >= 0.2 else 2


def replay_with_kept(review: Review, user: User) -> dict[str, Any]:
    """The answer as the student looks at it, with the comparisons that the coach put into it."""
    kept = kept_of(review, user)
    return {
        **replay_of(review, user),
        "kept": kept,
        "kept_data": [one["data"] for one in kept if one["data"]],
    }


def kept_of(review: Review, user: User) -> list[dict[str, Any]]:
    """The comparisons of an answer: data for the player, words for the page; what was pinned, not what is new."""
    kept = review.comparisons.select_related(
        "first__clip__submission",
        "second__clip__submission",
        "second__clip__reference",
        "first_readout__run",
        "second_readout__run",
    )
    return [_kept(one, user) for one in kept]


def _kept(kept: Comparison, user: User) -> dict[str, Any]:
    words: dict[str, Any] = {
        "id": str(kept.public_id),
        "words": kept.second_words,
        "note": kept.note,
        "layout": Layout(kept.layout).label,
        "lock_words": Lock(kept.lock).label,
        "gone": GONE if kept.second is None else "",
        "numbers": None,
        "data": None,
    }
    if kept.second is None:
        return words
    clips = kept.first.clip, kept.second.clip
    hands = hand_in(clips[0]), hand_in(clips[1])
    readouts = kept.first_readout, kept.second_readout
    words["numbers"] = numbers_of(kept.numbers, refusal(*readouts), cautions(*clips, hands))
    words["shows_numbers"] = kept.shows_numbers
    words["data"] = {
        "uid": str(kept.public_id),
        "first": pinned_swing(kept.first, readouts[0], user, hand=hands[0], label=f"Clip {clips[0].number}"),
        "second": pinned_swing(kept.second, readouts[1], user, hand=hands[1], label=kept.second_words),
        "words": kept.second_words,
        "time_map": kept.time_map,
        "lock": kept.lock,
        "offset_us": kept.offset_us,
        "layout": kept.layout,
        "opacity": kept.opacity,
        "is_mirrored": kept.is_mirrored,
        "at_us": kept.at_us,
    }
    return words
