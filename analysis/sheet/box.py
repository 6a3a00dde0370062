"""The part of the picture that holds the golfer and the club at all events."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.sheet.body import Body
from analysis.tracks import SwingTracks
from analysis.types import Floats

# Width over height of a picture on the sheet; and the room around the golfer, of the box's height.
NARROWEST, WIDEST = 0.66, 1.0
ROOM = 0.06


@dataclass(frozen=True, slots=True)
class Box:
    """Edges in whole pixels of the upright frame; right and bottom are not included."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def width(self) -> int:
        """Pixels, at least 1."""
        return self.right - self.left

    @property
    def height(self) -> int:
        """Pixels, at least 1."""
        return self.bottom - self.top


def golfer_box(tracks: SwingTracks, bodies: Sequence[Body]) -> Box:
    """One box for all events, so that the pictures can be compared.

    Parameters
    ----------
    tracks : SwingTracks
    bodies : sequence of Body
        The golfer at the events; none gives the whole frame.

    Returns
    -------
    Box
        Inside the frame; its proportions lie in 0.66..1.0 (width over height) where the frame allows it.
    """
    width, height = tracks.pose.width, tracks.pose.height
    points = np.array([point for body in bodies for point in _points(body)], float)
    if not points.size:
        return Box(0, 0, width, height)
    (x0, y0), (x1, y1) = points.min(0), points.max(0)
    room = ROOM * max(y1 - y0, x1 - x0)
    # Above the ears the head goes on.
    x0, y0 = max(0.0, x0 - room), max(0.0, y0 - 1.5 * room)
    x1, y1 = min(float(width), x1 + room), min(float(height), y1 + room)
    tall, wide = y1 - y0, x1 - x0
    more_wide = max(0.0, NARROWEST * tall - wide)
    more_tall = max(0.0, wide / WIDEST - tall)
    left, right = _inside(x0 - more_wide / 2, x1 + more_wide / 2, width)
    top, bottom = _inside(y0 - more_tall / 2, y1 + more_tall / 2, height)
    return Box(left, top, right, bottom)


def _points(body: Body) -> list[Floats]:
    shaft = (body.shaft,) if body.shaft else ()
    ends = [point for line in (*body.lead, *body.trail, *body.across, *shaft) for point in line]
    return ends + list(body.head)


def _inside(low: float, high: float, size: int) -> tuple[int, int]:
    """The span moved, and where it is too long cut, to lie in 0..size."""
    if high - low >= size:
        return 0, size
    shift = max(0.0, -low) - max(0.0, high - size)
    first = int(np.clip(round(low + shift), 0, size - 1))
    return first, int(np.clip(round(high + shift), first + 1, size))
