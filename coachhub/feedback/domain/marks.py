"""Drawings and moments of a review: checked, and saved as a whole."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from analysis.types import JOINTS
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.revisions import Attempt, advance
from coachhub.feedback.domain.texts import text_for
from coachhub.feedback.enums import MarkKind, MarkWeight
from coachhub.feedback.models import Mark, Moment, Review
from coachhub.swings.domain.whole_clip import swings_by_id
from coachhub.swings.models import Swing

MOST_MARKS = 60
MOST_MOMENTS = 40
MOST_POINTS = 400
# The longest clip that is taken in, with room for the last frame.
LATEST_US = 61_000_000
SHAFT = "shaft"
POINTS: dict[str, int] = {
    MarkKind.LINE: 2,
    MarkKind.ARROW: 2,
    MarkKind.ELLIPSE: 2,
    MarkKind.ANGLE: 3,
    MarkKind.TEXT: 1,
}

Data = Mapping[str, Any]


@transaction.atomic
def save_marks(
    review: Review,
    marks: Sequence[Data],
    moments: Sequence[Data],
    *,
    revision: int,
    by: User,
    now: datetime,
    attempt: Attempt | None = None,
) -> Review:
    """Make the review's drawings and moments those given, in their order.

    A mark: uid, swing (public id of a swing, or of a clip where nothing was measured), kind, points (pairs of
    shares of the picture), from_us, to_us, label, note; where it goes with something over time, follows and
    anchor_us; where it is not drawn as usual, weight and is_dashed. A moment: uid, swing, at_us, note.
    ``revision`` is the one the caller read; raises Stale if another tab saved since, and RuleBroken for what can't
    be drawn.
    """
    _refuse_too_many(marks, moments)
    advance(review, revision=revision, by=by, now=now, attempt=attempt)
    swings = swings_by_id(review.submission, {_uuid(thing, "swing") for thing in (*marks, *moments)}, now=now)
    _replace(review, [_mark(review, data, order, swings) for order, data in enumerate(marks)], Mark)
    _replace(review, [_moment(review, data, swings) for data in moments], Moment)
    return review


def _replace(review: Review, rows: list[Any], model: Any) -> None:
    if len({row.uid for row in rows}) != len(rows):
        raise RuleBroken("twice", "The same drawing or moment was sent twice. Load the page again.")
    model.objects.filter(review=review).delete()
    model.objects.bulk_create(rows)


def _refuse_too_many(marks: Sequence[Data], moments: Sequence[Data]) -> None:
    for things, most, word in ((marks, MOST_MARKS, "drawings"), (moments, MOST_MOMENTS, "moments")):
        if len(things) > most:
            raise RuleBroken("too_many", f"An answer holds at most {most} {word}. Delete one first.")


def _mark(review: Review, data: Data, order: int, swings: Mapping[UUID, Swing]) -> Mark:
    kind = str(data.get("kind", ""))
    if kind not in MarkKind.values:
        raise RuleBroken("kind", f"A drawing is one of {', '.join(MarkKind.values)}, not {kind[:20]!r}.")
    from_us, to_us = _time(data, "from_us"), _time(data, "to_us")
    if to_us < from_us:
        raise RuleBroken("span", "A drawing must end after it starts. Set its first and last frame again.")
    label = text_for(Mark, "label", data.get("label"), label="label")
    if kind == MarkKind.TEXT and not label:
        raise RuleBroken("no_words", "A text on the picture needs words. Type them or delete it.")
    return Mark(
        review=review,
        swing=_swing(data, swings),
        uid=_uuid(data, "uid"),
        order=order,
        kind=kind,
        points=_points(data, kind),
        from_us=from_us,
        to_us=to_us,
        label=label,
        note=text_for(Mark, "note", data.get("note"), label="note"),
        **_following(data),
        **_style(data),
    )


def _style(data: Data) -> dict[str, Any]:
    weight = str(data.get("weight") or MarkWeight.NORMAL)
    if weight not in MarkWeight.values:
        raise RuleBroken("weight", f"A line is one of {', '.join(MarkWeight.values)}, not {weight[:20]!r}.")
    return {"weight": weight, "is_dashed": data.get("is_dashed") is True}


def _following(data: Data) -> dict[str, Any]:
    """What the drawing goes with over time, and the frame in which its points are its own."""
    follows = str(data.get("follows") or "")
    if not follows:
        return {"follows": "", "anchor_us": None}
    if follows not in (SHAFT, *JOINTS):
        raise RuleBroken("follows", "A drawing can only go with a joint or with the shaft. Choose again.")
    return {"follows": follows, "anchor_us": _time(data, "anchor_us")}


def _moment(review: Review, data: Data, swings: Mapping[UUID, Swing]) -> Moment:
    note = text_for(Moment, "note", data.get("note"), label="moment")
    if not note:
        raise RuleBroken("no_words", "A moment needs a sentence. Write one or delete the moment.")
    return Moment(
        review=review,
        swing=_swing(data, swings),
        uid=_uuid(data, "uid"),
        at_us=_time(data, "at_us"),
        note=note,
    )


def _points(data: Data, kind: str) -> list[list[float]]:
    points = data.get("points")
    wanted = POINTS.get(kind)
    count = len(points) if isinstance(points, list) else 0
    if not isinstance(points, list) or not (count == wanted if wanted else 2 <= count <= MOST_POINTS):
        raise RuleBroken(
            "points", f"A drawing of the kind {kind!r} can't have {count} points. Draw it again."
        )
    return [_point(point) for point in points]


def _point(point: object) -> list[float]:
    if isinstance(point, list) and len(point) == 2 and all(_is_share(value) for value in point):
        return [round(float(value), 5) for value in point]
    raise RuleBroken("points", "A drawing lies outside the picture. Move it inside or draw it again.")


def _is_share(value: object) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and math.isfinite(value) and 0 <= value <= 1  # type: ignore[arg-type,operator]


def _time(data: Data, name: str) -> int:
    value = data.get(name)
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= LATEST_US:
        raise RuleBroken("time", "A time lies outside the clip. Set the frame again.")
    return value


def _uuid(data: Data, name: str) -> UUID:
    try:
        return UUID(str(data.get(name)))
    except ValueError:
        raise RuleBroken("id", "Something of the drawing is missing. Load the page again.") from None


def _swing(data: Data, swings: Mapping[UUID, Swing]) -> Swing:
    found = swings.get(_uuid(data, "swing"))
    if found is None:
        raise RuleBroken("swing", "That swing does not belong to this submission. Load the page again.")
    return found
