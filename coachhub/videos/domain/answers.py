"""What a student says about a range session: checked once, here, whoever asks."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any, Required, TypedDict

from coachhub.accounts.enums import RedFlag
from coachhub.camps.models import Camp
from coachhub.common.domain.errors import RuleBroken
from coachhub.videos.enums import ClubClass, Intent, MissCurve, MissHeight, MissStart, MissStrike

# A range session is remembered well enough to be described for about two months; older ones say little of now.
OLDEST_RANGE_DAYS = 60
MOST_CHARACTERS = {"intent_words": 1000, "note": 2000, "pain_words": 1000}
CHOICES: dict[str, list[str]] = {
    "club_class": ClubClass.values,
    "miss_start": ["", *MissStart.values],
    "miss_curve": ["", *MissCurve.values],
    "miss_strike": ["", *MissStrike.values],
    "miss_height": ["", *MissHeight.values],
}


class Answers(TypedDict, total=False):
    range_day: Required[date]
    club_class: Required[str]
    miss_start: str
    miss_curve: str
    miss_strike: str
    miss_height: str
    intents: Iterable[str]
    intent_words: str
    note: str
    pain_today: bool
    pain_words: str
    red_flags: Iterable[str]


def check_answers(answers: Answers, camp: Camp, *, now: datetime) -> dict[str, Any]:
    """The answers as fields of a submission; ValueError names the argument that is no allowed one."""
    given: dict[str, Any] = dict(answers)
    refuse_odd_day(given["range_day"], camp, now=now)
    fields = {name: one_of(name, given.get(name, ""), allowed) for name, allowed in CHOICES.items()}
    fields |= {name: short(name, given.get(name, ""), most) for name, most in MOST_CHARACTERS.items()}
    flags = known("red_flags", given.get("red_flags", ()), RedFlag.values)
    return fields | {
        "range_day": given["range_day"],
        "intents": known("intents", given.get("intents", ()), Intent.values),
        "red_flags": flags,
        # News of pain even where the first box was left empty; words are never weighed by a machine.
        "pain_today": bool(given.get("pain_today") or flags or fields["pain_words"]),
    }


def latest_day(camp: Camp, *, now: datetime) -> date:
    """Today, for a student who may stand a day ahead of the camp's zone."""
    return max(now.astimezone(camp.zone), now + timedelta(hours=14), key=lambda at: at.date()).date()


def refuse_odd_day(range_day: date, camp: Camp, *, now: datetime) -> None:
    latest = latest_day(camp, now=now)
    if range_day > latest:
        raise RuleBroken("future_day", "The range day lies in the future. Give the day on which you filmed.")
    if range_day < latest - timedelta(days=OLDEST_RANGE_DAYS):
        raise RuleBroken(
            "old_day",
            f"The range day is more than {OLDEST_RANGE_DAYS} days ago. Send swings that show how you play now.",
        )


def one_of(name: str, value: str, allowed: list[str]) -> str:
    if value not in allowed:
        raise ValueError(f"{name} must be one of {allowed}, not {value!r}")
    return str(value)


def known(name: str, values: Iterable[str], allowed: list[str]) -> list[str]:
    given = list(dict.fromkeys(str(value) for value in values))
    unknown = [value for value in given if value not in allowed]
    if unknown:
        raise ValueError(f"{name} must be from {allowed}, not {unknown!r}")
    return given


def short(name: str, words: str, most: int) -> str:
    words = words.strip()
    if len(words) > most:
        raise ValueError(f"{name} must have at most {most} characters, not {len(words)}")
    return words
