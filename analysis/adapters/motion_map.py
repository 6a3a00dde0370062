"""Where in the picture something moves: whether the last pose still stands, and who else swings."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analysis.quality import Box
from analysis.types import Floats

Picture = NDArray[np.uint8]

# A change of brightness that noise and compression don't make, grey levels; and how often it must come.
CHANGED, LEAST_SHARE = 18, 0.08
LEAST_HEIGHT, MOST_AREA = 0.04, 0.6
# The feet stand still: room below the moving part, in its heights; and to the sides and above.
LOW_ROOM, SIDE_ROOM, TOP_ROOM = 1.3, 0.6, 0.4
# A golfer stands still while less than this share of the pixels around changes by more than noise does; hands that
# move by their own width change more. Looked at anew after so long, whatever the picture says.
STILL_SHARE, STILL_LEVELS, LONGEST_HOLD_S = 0.003, 12, 1.5
# Room for arms and club around the joints, in heights of their box.
HOLD_ROOM = 0.35


class StillPose:
    """Whether the pose that was found last still stands, because nothing around it has changed since.

    The picture is compared with the one in which the pose was found, so slow motion adds up. A camera that moves
    changes every picture: then nothing is held.
    """

    def __init__(self) -> None:
        self._grey: Picture | None = None
        self._box: tuple[slice, slice] | None = None
        self._t_s = 0.0

    def stands(self, grey: Picture, t_s: float) -> bool:
        """Whether the last pose serves for this small grey picture, too."""
        import cv2

        if self._grey is None or self._box is None or t_s - self._t_s > LONGEST_HOLD_S:
            return False
        change = cv2.absdiff(grey[self._box], self._grey[self._box])
        return bool((change > STILL_LEVELS).mean() < STILL_SHARE)

    def found(self, grey: Picture, t_s: float, xy: Floats, width: int, height: int) -> None:
        """Keep where the joints (J, 2) were found in a picture of that size, pixels; NaN if nowhere."""
        self._grey, self._t_s, self._box = grey, t_s, None
        if np.isfinite(xy).all():
            scale = max(grey.shape) / max(width, height)
            (x0, y0), (x1, y1) = xy.min(0) * scale, xy.max(0) * scale
            room = HOLD_ROOM * (y1 - y0)
            rows = slice(max(0, int(y0 - room)), max(1, int(y1 + room)))
            self._box = rows, slice(max(0, int(x0 - room)), max(1, int(x1 + room)))


def moving_region(greys: Sequence[Picture], known: Sequence[Box]) -> Box | None:
    """The part of the picture around the largest thing that keeps moving.

    Parameters
    ----------
    greys : sequence of ndarray of shape (h, w), uint8
        Small pictures in order of time.
    known : sequence of (x0, y0, x1, y1)
        Where people were found already, in 0..1; what moves there doesn't count.

    Returns
    -------
    tuple of float or None
        ``(x0, y0, x1, y1)`` in 0..1, with room for a whole person; None when nothing or all of the picture moves.
    """
    import cv2

    if len(greys) < 3:
        return None
    changed = np.mean([cv2.absdiff(a, b) > CHANGED for a, b in pairwise(greys)], axis=0)
    height, width = changed.shape
    for x0, y0, x1, y1 in known:
        rows = slice(max(0, int(y0 * height)), max(0, int(np.ceil(y1 * height))))
        changed[rows, max(0, int(x0 * width)) : max(0, int(np.ceil(x1 * width)))] = 0
    moving = (changed >= LEAST_SHARE).astype(np.uint8)
    if moving.mean() > MOST_AREA:
        return None
    joined = cv2.morphologyEx(moving, cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStats(joined)
    tall = [row for row in stats[1:count] if row[cv2.CC_STAT_HEIGHT] >= LEAST_HEIGHT * height]
    if not tall:
        return None
    x, y, w, h, _ = max(tall, key=lambda row: int(row[cv2.CC_STAT_AREA]))
    box = (x - SIDE_ROOM * h, y - TOP_ROOM * h, x + w + SIDE_ROOM * h, y + h + LOW_ROOM * h)
    x0, y0, x1, y1 = np.clip(np.array(box) / [width, height, width, height], 0, 1)
    return float(x0), float(y0), float(x1), float(y1)
