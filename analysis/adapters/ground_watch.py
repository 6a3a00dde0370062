"""How the picture of the ground moves while a hand holds the phone: what rests is told from what moves with it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.types import Floats

Picture = np.ndarray

MOST_POINTS, LEAST_POINTS = 80, 8
# Share of the strongest corner a point must have, least distance of two points, size of the patch that is followed.
LEAST_CORNER, APART_PX, PATCH_PX = 0.01, 5, 13
# A point that does not come back when followed the other way round was lost.
BACK_PX = 0.3


def ground_steps(greys: Sequence[Picture], top: int) -> Floats:
    """How far the picture below a line lies from where it lay in the first of the pictures.

    Shoes, mat and whatever lies on the ground are as far from the camera as the ball is, so that they move in the
    picture as a resting clubhead does. The few points that a club or a shadow carries away are outvoted.

    Parameters
    ----------
    greys : sequence of ndarray of shape (H, W), uint8
        All of one size.
    top : int
        First row of the ground.

    Returns
    -------
    ndarray of shape (N, 2)
        Right and down in pixels; the first is zero, NaN where too little is seen.

    References
    ----------
    Shi and Tomasi (1994) for the points, Lucas and Kanade (1981) for following them.
    """
    import cv2

    steps = np.full((len(greys), 2), np.nan)
    if not greys or not 0 <= top < greys[0].shape[0] - PATCH_PX:
        return steps
    grounds = [np.ascontiguousarray(grey[top:]) for grey in greys]
    points = cv2.goodFeaturesToTrack(grounds[0], MOST_POINTS, LEAST_CORNER, APART_PX)
    if points is None or len(points) < LEAST_POINTS:
        return steps
    steps[0] = 0.0
    window = (PATCH_PX, PATCH_PX)
    for k, ground in enumerate(grounds[1:], start=1):
        there, found, _ = cv2.calcOpticalFlowPyrLK(grounds[0], ground, points, points.copy(), winSize=window)
        back, again, _ = cv2.calcOpticalFlowPyrLK(ground, grounds[0], there, there.copy(), winSize=window)
        lost = np.hypot(*(np.asarray(back) - points).reshape(-1, 2).T)
        good = (np.asarray(found).ravel() == 1) & (np.asarray(again).ravel() == 1) & (lost < BACK_PX)
        if good.sum() >= LEAST_POINTS:
            steps[k] = np.median((np.asarray(there) - points).reshape(-1, 2)[good], axis=0)
    return steps
