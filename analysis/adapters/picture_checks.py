"""Light, sharpness and steadiness of the pictures a golfer is seen in."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.types import Floats

Picture = NDArray[np.uint8]

SHAKE_EDGE_PX = 320
LEAST_POINTS = 8
SHARP_EDGE_PX = 400
# Grey levels between neighbours: less is rounding; and a picture without a single step of the other size, be it
# that of the horizon, shows nothing.
LEAST_STEP, LEAST_EDGE = 3.0, 12.0
_REC_709 = np.array([0.2126, 0.7152, 0.0722])


def golfer_box(xy: Floats, width: int, height: int) -> tuple[int, int, int, int]:
    """Box ``(x0, y0, x1, y1)`` of the joints in whole pixels, at least 2 wide and high; the picture if unknown."""
    if not np.isfinite(xy).all():
        return 0, 0, width, height
    x0, y0 = np.clip(xy.min(0), 0, [width - 2, height - 2]).astype(int)
    x1, y1 = np.clip(xy.max(0), [x0 + 2, y0 + 2], [width, height]).astype(int)
    return int(x0), int(y0), int(x1), int(y1)


def luma_of(rgb: Picture, xy: Floats) -> float:
    """Mean brightness inside the golfer's box, or of the picture when nobody is found.

    Parameters
    ----------
    rgb : ndarray of shape (H, W, 3), uint8
    xy : ndarray of shape (J, 2)
        Joints in pixels; NaN when nobody is found.

    Returns
    -------
    float
        0..255, weights of Rec. ITU-R BT.709.
    """
    x0, y0, x1, y1 = golfer_box(xy, rgb.shape[1], rgb.shape[0])
    box = rgb[y0:y1, x0:x1]
    return float((box[::2, ::2].reshape(-1, 3).mean(0) * _REC_709).sum())


def sharpness_of(rgb: Picture, xy: Floats) -> float:
    """How much of the detail in the golfer's box is lost by blurring it a little more.

    Parameters
    ----------
    rgb : ndarray of shape (H, W, 3), uint8
    xy : ndarray of shape (J, 2)

    Returns
    -------
    float
        0 (no detail to lose: blurred already) .. 1 (all of it: crisp).

    References
    ----------
    Crete, Dolmiere, Ladret and Nicolas (2007), The blur effect: perception and estimation with a new
    no-reference perceptual blur metric, Proc. SPIE 6492 (from memory).
    """
    import cv2

    x0, y0, x1, y1 = golfer_box(xy, rgb.shape[1], rgb.shape[0])
    grey = np.asarray(cv2.cvtColor(np.ascontiguousarray(rgb[y0:y1, x0:x1]), cv2.COLOR_RGB2GRAY))
    scale = SHARP_EDGE_PX / max(grey.shape)
    if scale < 1:
        grey = np.asarray(cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA))
    image = grey.astype(np.float32)
    return max(_kept_detail(image, (1, 9)), _kept_detail(image, (9, 1)))


def _kept_detail(image: NDArray[np.float32], kernel: tuple[int, int]) -> float:
    import cv2

    axis = 0 if kernel[1] > 1 else 1
    before = np.abs(np.diff(image, axis=axis))
    after = np.abs(np.diff(np.asarray(cv2.blur(image, kernel)), axis=axis))
    # Steps of whole grey levels in a smooth picture are no detail.
    real = before > LEAST_STEP
    if before.max() < LEAST_EDGE:
        return 0.0
    return float(np.maximum(before - after, 0)[real].sum() / before[real].sum())


def small_grey(rgb: Picture) -> Picture:
    """The picture in grey with its longer side at `SHAKE_EDGE_PX`."""
    import cv2

    scale = SHAKE_EDGE_PX / max(rgb.shape[:2])
    grey = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY)
    return np.asarray(
        cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), dtype=np.uint8
    )


def camera_step(before: Picture, after: Picture, boxes: list[tuple[float, float, float, float]]) -> Floats:
    """How far the background moved from one small grey picture to the next.

    Parameters
    ----------
    before, after : ndarray of shape (h, w), uint8
        From `small_grey`.
    boxes : list of (x0, y0, x1, y1)
        Where people are, in shares 0..1 of width and height; points in there don't count.

    Returns
    -------
    ndarray of shape (2,)
        Right and down in shares of the picture's longer side; NaN where the background shows too little.

    References
    ----------
    Shi and Tomasi (1994) for the points, Lucas and Kanade (1981) for following them.
    """
    import cv2

    mask = np.full(before.shape, 255, np.uint8)
    height, width = before.shape
    for x0, y0, x1, y1 in boxes:
        rows = slice(max(0, int(y0 * height)), max(0, int(np.ceil(y1 * height))))
        mask[rows, max(0, int(x0 * width)) : max(0, int(np.ceil(x1 * width)))] = 0
    points = cv2.goodFeaturesToTrack(before, 60, 0.02, 8, mask=mask)
    if points is None or len(points) < LEAST_POINTS:
        return np.full(2, np.nan)
    moved, found, _ = cv2.calcOpticalFlowPyrLK(before, after, points, np.zeros_like(points), winSize=(15, 15))
    good = np.asarray(found).reshape(-1) == 1
    if good.sum() < LEAST_POINTS:
        return np.full(2, np.nan)
    steps = (np.asarray(moved) - np.asarray(points)).reshape(-1, 2)[good]
    return np.asarray(np.median(steps, axis=0) / max(before.shape), dtype=float)


def shake_of(steps: Floats, step_s: float) -> float:
    """Speed of the picture that the worst tenth of the time exceeds.

    Parameters
    ----------
    steps : ndarray of shape (N, 2)
        From `camera_step`, NaN where unknown.
    step_s : float
        Seconds between the pictures.

    Returns
    -------
    float
        Shares of the longer side a second; 0 when the background never showed enough.
    """
    known = steps[np.isfinite(steps).all(1)]
    if len(known) < 3 or step_s <= 0:
        return 0.0
    return float(np.percentile(np.hypot(*known.T), 90)) / step_s
