"""Drawings that go with a joint or with the shaft: the same rules as the browser's (static/js/core/following.js)."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from typing import Any

Mark = Mapping[str, Any]
Tracks = Mapping[str, Any]
Point = tuple[float, float]

SHAFT = "shaft"
SEEN = 0.4


def followed(mark: Mark, tracks: Tracks | None, us: float, within_us: float, aspect: float) -> Mark | None:
    """The mark as it lies at a time.

    Parameters
    ----------
    mark : mapping
        ``points`` in shares of the picture; ``follows`` and ``anchor_us`` where it goes with something.
    tracks : mapping or None
        ``t_us``, ``joints`` (name to rows of x, y, confidence or None), ``shaft`` (rows of x, y, x, y or None).
    us : float
        Microseconds of the clip.
    within_us : float
        How far a row may be from the time it stands for.
    aspect : float
        The picture's width by its height.

    Returns
    -------
    mapping or None
        None where what it follows is not seen at that time.
    """
    what = mark.get("follows")
    if not what or tracks is None:
        return mark
    anchor_us = mark.get("anchor_us")
    start = _anchor(what, tracks, mark["from_us"] if anchor_us is None else anchor_us, within_us)
    end = _anchor(what, tracks, us, within_us)
    if start is None or end is None:
        return None
    return {**mark, "points": [_carried(point, start, end, aspect) for point in mark["points"]]}


def _anchor(what: str, tracks: Tracks, us: float, within_us: float) -> tuple[Point, Point | None] | None:
    """A place, and for the shaft the way it points."""
    times = tracks["t_us"]
    if not times:
        return None
    row = _nearest(times, us)
    if abs(times[row] - us) > within_us:
        return None
    if what == SHAFT:
        ends = (tracks.get("shaft") or [None] * len(times))[row]
        return None if ends is None else ((ends[0], ends[1]), (ends[2] - ends[0], ends[3] - ends[1]))
    point = tracks["joints"].get(what, [None] * len(times))[row]
    return None if point is None or point[2] < SEEN else ((point[0], point[1]), None)


def _nearest(times: Sequence[float], us: float) -> int:
    after = min(bisect_left(times, us), len(times) - 1)
    return after - 1 if after > 0 and us - times[after - 1] < times[after] - us else after


def _carried(
    point: Sequence[float],
    start: tuple[Point, Point | None],
    end: tuple[Point, Point | None],
    aspect: float,
) -> list[float]:
    """Moved as the anchor moved; for the shaft also turned as it turned, never stretched."""
    dx, dy = point[0] - start[0][0], (point[1] - start[0][1]) / aspect
    turn = 0.0
    if start[1] is not None and end[1] is not None:
        turn = _angle(end[1], aspect) - _angle(start[1], aspect)
    cos, sin = math.cos(turn), math.sin(turn)
    return [end[0][0] + dx * cos - dy * sin, end[0][1] + (dx * sin + dy * cos) * aspect]


def _angle(way: Point, aspect: float) -> float:
    return math.atan2(way[1] / aspect, way[0])
