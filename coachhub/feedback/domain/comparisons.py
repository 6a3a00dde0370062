"""Two swings side by side in an answer: kept as the coach saw them, pinned for good when the answer goes out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from analysis.compare import Change
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.beside import Choice, current_readout, find_beside
from coachhub.feedback.domain.claims import refuse_unless_held
from coachhub.feedback.domain.marks import LATEST_US
from coachhub.feedback.domain.texts import text_for
from coachhub.feedback.enums import Layout, Lock
from coachhub.feedback.models import Comparison, Review
from coachhub.swings.domain.measured import changes, map_between
from coachhub.swings.domain.whole_clip import swings_by_id, whole_clip_swing
from coachhub.swings.models import Readout, Swing

MOST_COMPARISONS = 4
GONE = "The film beside it was removed by its owner."
OTHER_VIEW = (
    "One is filmed face-on, the other down-the-line: their numbers don't mean the same, so they are not compared. "
    "Look at the pictures."
)
NOT_MEASURED = "One of the two was not measured, so there are no numbers to compare."

Data = Mapping[str, Any]


@transaction.atomic
def keep_comparison(review: Review, data: Data, *, by: User, now: datetime) -> Comparison:
    """Put it into the answer, or change what was kept under the same ``uid``.

    ``data``: uid, first, second (ids of swings, or of clips where nothing was measured), lock, offset_us, layout,
    opacity, is_mirrored, at_us, note, shows_numbers.
    """
    refuse_unless_held(review, by)
    uid = _uuid(data, "uid")
    first = swings_by_id(review.submission, {_uuid(data, "first")}, now=now).get(_uuid(data, "first"))
    second = find_beside(review, _uuid(data, "second"), by=by)
    if first is None or second is None:
        raise RuleBroken("beside", "One of the two swings is not here any more. Load the page again.")
    known = review.comparisons.filter(public_id=uid).first()
    if known is None and Comparison.objects.filter(public_id=uid).exists():
        raise RuleBroken("beside", "This comparison belongs to another answer. Load the page again.")
    if known is None and review.comparisons.count() >= MOST_COMPARISONS:
        raise RuleBroken(
            "too_many", f"An answer holds at most {MOST_COMPARISONS} comparisons. Take one out first."
        )
    kept = known or Comparison(review=review, public_id=uid, created_at=now)
    for name, value in {**_shown_as(data), **_pinned(first, second, now=now)}.items():
        setattr(kept, name, value)
    kept.save()
    return kept


@transaction.atomic
def drop_comparison(review: Review, uid: UUID, *, by: User) -> bool:
    """Take it out of the answer again. False: it was not there."""
    refuse_unless_held(review, by)
    deleted, _ = review.comparisons.filter(public_id=uid).delete()
    return bool(deleted)


def pin_comparisons(review: Review, *, now: datetime) -> None:
    """The answer goes out: readouts, time maps and numbers as they are now, and the student may see the films."""
    for kept in review.comparisons.select_related("first", "second__clip__reference"):
        if kept.second is None:
            continue
        pair = current_readout(kept.first), current_readout(kept.second)
        for name, value in _measured_pair(*pair).items():
            setattr(kept, name, value)
        kept.save()
        reference = kept.second.clip.reference
        if reference is not None:
            reference.shown_to.add(review.submission.student)


def refusal(first: Readout | None, second: Readout | None) -> str:
    """Why there are no numbers beside the pictures; empty where there are."""
    if first is None or second is None:
        return NOT_MEASURED
    return OTHER_VIEW if first.data.get("view") != second.data.get("view") else ""


def numbers_beside(first: Readout | None, second: Readout | None) -> list[dict[str, Any]]:
    """What differs, as plain values: the other one is "before", the swing under review "after"."""
    if first is None or second is None or refusal(first, second):
        return []
    return [_plain(change) for change in changes(second, first)]


def _plain(change: Change) -> dict[str, Any]:
    return {
        "metric": change.metric,
        "unit": change.unit,
        "before": change.before,
        "after": change.after,
        "difference": change.difference,
        "detectable": change.detectable,
        "is_beyond": change.beyond_noise,
        "reason": change.reason,
    }


def map_data(first: Readout | None, second: Readout | None) -> dict[str, Any]:
    found = map_between(first, second) if first and second else None
    if found is None:
        return {}
    return {
        "events": list(found.events),
        "first_us": [round(float(t) * 1e6) for t in found.first_s],
        "second_us": [round(float(t) * 1e6) for t in found.second_s],
    }


def _pinned(first: Swing, second: Choice, *, now: datetime) -> dict[str, Any]:
    other = second.swing or whole_clip_swing(second.clip, now=now)
    pair = current_readout(first), current_readout(other)
    return {"first": first, "second": other, "second_words": second.words[:200], **_measured_pair(*pair)}


def _measured_pair(first: Readout | None, second: Readout | None) -> dict[str, Any]:
    return {
        "first_readout": first,
        "second_readout": second,
        "time_map": map_data(first, second),
        "numbers": numbers_beside(first, second),
    }


def _shown_as(data: Data) -> dict[str, Any]:
    return {
        "lock": _among(data, "lock", Lock.values),
        "layout": _among(data, "layout", Layout.values),
        "offset_us": _whole(data, "offset_us", -LATEST_US, LATEST_US),
        "opacity": _whole(data, "opacity", 0, 100),
        "at_us": _whole(data, "at_us", 0, LATEST_US),
        "is_mirrored": data.get("is_mirrored") is True,
        "shows_numbers": data.get("shows_numbers") is True,
        "note": text_for(Comparison, "note", data.get("note"), label="note"),
    }


def _among(data: Data, name: str, allowed: list[str]) -> str:
    value = str(data.get(name, ""))
    if value not in allowed:
        raise RuleBroken("beside", "How the two are set side by side arrived broken. Load the page again.")
    return value


def _whole(data: Data, name: str, least: int, most: int) -> int:
    value = data.get(name)
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
        raise RuleBroken(
            "beside", "A time or a setting of the comparison is out of range. Load the page again."
        )
    return value


def _uuid(data: Data, name: str) -> UUID:
    try:
        return UUID(str(data.get(name)))
    except ValueError:
        raise RuleBroken("beside", "Something of the comparison is missing. Load the page again.") from None
