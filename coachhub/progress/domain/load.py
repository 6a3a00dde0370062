"""How much lies with each coach: open, overdue and answered reviews, and how long the answers took. Pure counting."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from coachhub.progress.domain.turnaround import Answer

WEEK = timedelta(days=7)


@dataclass(frozen=True)
class Load:
    """``coach_id`` None: what nobody has taken yet."""

    coach_id: int | None
    name: str
    open: int
    overdue: int
    answered: int
    answered_this_week: int
    within_promise: int
    # Hours on the promise clock in which half, and nine of ten, of the answers were out.
    half_within: float | None
    most_within: float | None


def loads(answers: Iterable[Answer], coaches: Iterable[tuple[int, str]], *, now: datetime) -> list[Load]:
    """Each coach of the cohort, and whoever else answered there, by name; what nobody has taken comes last."""
    answers = list(answers)
    names: dict[int | None, str] = dict(coaches)
    for answer in answers:
        names.setdefault(answer.coach_id, answer.coach)
    untaken = names.pop(None, None)
    people = sorted(names.items(), key=lambda each: (each[1].casefold(), each[0] or 0))
    rows = [_load(key, name, answers, now) for key, name in people]
    return rows if untaken is None else [*rows, _load(None, "", answers, now)]


def _load(coach_id: int | None, name: str, answers: list[Answer], now: datetime) -> Load:
    mine = [answer for answer in answers if answer.coach_id == coach_id]
    out = [answer for answer in mine if answer.published_at is not None]
    hours = [answer.hours for answer in out if answer.hours is not None]
    return Load(
        coach_id=coach_id,
        name=name,
        open=len(mine) - len(out),
        overdue=sum(answer.is_open and answer.is_late for answer in mine),
        answered=len(out),
        answered_this_week=sum(bool(each.published_at and each.published_at > now - WEEK) for each in out),
        within_promise=sum(not answer.is_late for answer in out),
        half_within=quantile(hours, 0.5),
        most_within=quantile(hours, 0.9),
    )


def quantile(values: Sequence[float], share: float) -> float | None:
    """Linear between the two nearest in order (Hyndman and Fan 1996, definition 7); None of none."""
    if not 0 <= share <= 1:
        raise ValueError(f"share must be from 0 to 1, got {share}")
    if not values:
        return None
    ordered = sorted(values)
    at = (len(ordered) - 1) * share
    low = math.floor(at)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (at - low) * (ordered[high] - ordered[low])
