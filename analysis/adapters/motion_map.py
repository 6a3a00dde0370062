"""Where in the picture something moves, when nobody who was found swings."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analysis.quality import Box

Picture = NDArray[np.uint8]

# A change of brightness that noise and compression don't make, grey levels; and how often it must come.
CHANGED, LEAST_SHARE = 18, 0.08
LEAST_HEIGHT, MOST_AREA = 0.04, 0.6
# The feet stand still: room below the moving part, in its heights; and to the sides and above.
LOW_ROOM, SIDE_ROOM, TOP_ROOM = 1.3, 0.6, 0.4


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
