"""Line evidence for the shaft around the hands, without any learned model.

For every direction from the hands three things are added up: thin lines that run toward the hands (votes of
picture points with a ridge or valley of brightness), how much of such a line differs from the still
background, and how much of the ray moved between the frames. The direction a forearm lies in counts less.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.types import Floats

BINS = 360
# Shares of the standing height: where shaft can be seen from the hands, and how far a line may pass them by.
NEAREST, FARTHEST, BESIDE = 0.08, 0.52, 0.026
RINGS, OFFSETS = 9, 5
ORIENTATION_REACH_DEG = 6
ORIENTATION_SPREAD_DEG = 3.5
LEAST_RIDGE = 5.0
MOST_POINTS = 1500
FULL_RING = 14.0
# What a point of a still, a new and a moving line is worth.
STILL, FRESH, STIRRED = 0.03, 0.62, 0.35
CHANGED = 9.0
MOTION_SHARE = 0.55
# A limb's edges: how far from its line, how parallel, what they are worth; the hand beyond the wrist.
LIMB_HALF, LIMB_PARALLEL_DEG, LIMB_WORTH, HAND_PAST_WRIST = 0.06, 16.0, 0.3, 0.09
_COS = np.cos(np.radians(np.arange(BINS))).astype(np.float32)
_SIN = np.sin(np.radians(np.arange(BINS))).astype(np.float32)


@dataclass(frozen=True, slots=True)
class ShaftEvidence:
    """Evidence of one frame over the directions 0..359 degrees (atan2, y down).

    ``line`` and ``motion`` (360,) shares of the ray from the hands, 0..1; ``score`` (360,) their weighted sum
    after the forearms' share was taken off; ``origin`` (360,) which of the hands' possible places it is from;
    ``length`` (360,) how far the line reaches, in standing heights.
    """

    score: Floats
    line: Floats
    motion: Floats
    origin: np.ndarray
    length: Floats

    @staticmethod
    def nothing() -> ShaftEvidence:
        """Evidence for no direction at all."""
        none = np.zeros(BINS)
        return ShaftEvidence(none, none, none, np.zeros(BINS, int), none)


@dataclass(frozen=True, slots=True)
class _Points:
    """Picture points that may be shaft: place from the patch's middle, direction, weight."""

    x: np.ndarray
    y: np.ndarray
    along: np.ndarray
    weight: np.ndarray


def background(greys: list[np.ndarray]) -> np.ndarray:
    """The still picture behind a swing: the median of up to eleven frames spread over it.

    Parameters
    ----------
    greys : list of ndarray of shape (H, W)
        Grey frames of one camera position, uint8.
    """
    index = np.linspace(0, len(greys) - 1, min(11, len(greys))).round().astype(int)
    return np.asarray(np.median(np.stack([greys[i] for i in index]), axis=0).astype(np.uint8))


def shaft_evidence(
    now: np.ndarray,
    before: np.ndarray,
    after: np.ndarray,
    still: np.ndarray,
    hands: Floats,
    limbs: Floats,
    stature_px: float,
) -> ShaftEvidence:
    """Evidence for the shaft's direction in one frame.

    Parameters
    ----------
    now, before, after : ndarray of shape (H, W)
        Grey frame and its neighbours in time, uint8.
    still : ndarray of shape (H, W)
        From ``background``.
    hands : ndarray of shape (K, 2)
        Where the hands may be, pixels; the best of these places counts for each direction.
    limbs : ndarray of shape (L, 2, 2)
        Start and end of each limb, pixels, the two forearms (elbow to wrist) first; NaN where unseen.
    stature_px : float
        Standing height in pixels.

    Raises
    ------
    ValueError
        If no place of the hands is finite or the height is not positive.
    """
    places = hands[np.isfinite(hands).all(1)]
    if not len(places) or not stature_px > 0:
        raise ValueError(f"hands must be finite and stature_px positive, got {hands} and {stature_px}")
    import cv2

    middle = np.median(places, axis=0)
    window = _window(now.shape, middle, stature_px)
    if window is None:
        return ShaftEvidence.nothing()
    grey, *others = (cv2.GaussianBlur(x[window], (0, 0), 1.0) for x in (now, before, after, still))
    noise = CHANGED + _slope(cv2, others[2])
    moved = np.minimum(cv2.absdiff(grey, others[0]), cv2.absdiff(grey, others[1])) / noise
    new = cv2.absdiff(grey, others[2]) / noise
    corner = np.array([window[1].start, window[0].start])
    points = _ridge_points(cv2, grey, moved, new, middle - corner)
    points = _toward(points, places - middle, stature_px)
    points = _less_along(points, limbs - middle, stature_px)
    line, origin, length = _line_share(points, places - middle, stature_px)
    motion = _motion_share(np.minimum(moved, new), middle - corner, places - middle, stature_px)
    score = (line + MOTION_SHARE * motion) * _away_from_arms(limbs[:2, 0] - middle, stature_px)
    return ShaftEvidence(score, line, motion, origin, length)


def _window(shape: tuple[int, ...], middle: Floats, stature: float) -> tuple[slice, slice] | None:
    reach = int(np.ceil((FARTHEST + 0.05) * stature))
    x, y = (int(round(float(v))) for v in middle)
    rows = slice(max(0, y - reach), min(shape[0], y + reach + 1))
    cols = slice(max(0, x - reach), min(shape[1], x + reach + 1))
    return (rows, cols) if min(rows.stop - rows.start, cols.stop - cols.start) >= 8 else None


def _slope(cv2: Any, grey: np.ndarray) -> np.ndarray:
    """Grey levels per pixel: what a shaking camera changes at an edge of the still picture."""
    across, down = (cv2.Sobel(grey, cv2.CV_32F, *d, ksize=3, scale=1 / 8) for d in ((1, 0), (0, 1)))
    return np.asarray(cv2.magnitude(across, down))


def _ridge_points(cv2: Any, grey: np.ndarray, moved: np.ndarray, new: np.ndarray, middle: Floats) -> _Points:
    """Points on thin bright or dark lines with the direction of their line."""
    xx, yy, xy = (cv2.Sobel(grey, cv2.CV_32F, *d, ksize=3) for d in ((2, 0), (0, 2), (1, 1)))
    half, apart = (xx + yy) / 2, cv2.magnitude((xx - yy) / 2, xy)
    # Curvature across the line less that along it: a corner or a spot bends both ways.
    strength = 2 * np.minimum(np.abs(half), apart) - 0.5 * np.abs(np.abs(half) - apart)
    found = np.flatnonzero(strength > LEAST_RIDGE)
    rows, cols = np.divmod(found, grey.shape[1])
    sign = np.where(half.ravel()[found] < 0, -1.0, 1.0)
    bend = np.arctan2(2 * xy.ravel()[found] * sign, (xx - yy).ravel()[found] * sign) / 2
    fresh, stirred = (np.minimum(x.ravel()[found], 1.0) for x in (new, moved))
    weight = np.sqrt(np.minimum(strength.ravel()[found], 60.0)) * (STILL + FRESH * fresh + STIRRED * stirred)
    return _Points(
        (cols - middle[0]).astype(np.float32),
        (rows - middle[1]).astype(np.float32),
        np.degrees(bend) + 90,
        weight,
    )


def _toward(points: _Points, places: Floats, stature: float) -> _Points:
    """Only the points whose line may pass one of the places, at most ``MOST_POINTS``, heaviest first."""
    angle = np.radians(points.along).astype(np.float32)
    cos, sin = np.cos(angle), np.sin(angle)
    slack = np.float32(np.sin(np.radians(ORIENTATION_REACH_DEG)))
    keep = np.zeros(len(points.x), bool)
    for x, y in places.astype(np.float32):
        dx, dy = points.x - x, points.y - y
        out = np.abs(cos * dx + sin * dy)
        beside = np.abs(cos * dy - sin * dx)
        keep |= (beside < BESIDE * stature + slack * out) & (out < FARTHEST * stature)
    index = np.flatnonzero(keep)
    if index.size > MOST_POINTS:
        index = index[np.argpartition(points.weight[index], -MOST_POINTS)[-MOST_POINTS:]]
    return _Points(points.x[index], points.y[index], points.along[index], points.weight[index])


def _less_along(points: _Points, limbs: Floats, stature: float) -> _Points:
    """Edges of arms, legs and trunk look like shafts: points beside a limb and along it count less."""
    weight = points.weight.copy()
    for k, (start, end) in enumerate(limbs):
        line = end - start
        length = float(np.hypot(*line))
        if not np.isfinite(length) or length < 0.02 * stature:
            continue
        ux, uy = line / length
        dx, dy = points.x - start[0], points.y - start[1]
        along, beside = dx * ux + dy * uy, np.abs(dy * ux - dx * uy)
        longer = HAND_PAST_WRIST * stature if k < 2 else 0.0
        inside = (along > -0.02 * stature) & (along < length + longer) & (beside < LIMB_HALF * stature)
        turn = (points.along - np.degrees(np.arctan2(uy, ux)) + 90) % 180 - 90
        weight[inside & (np.abs(turn) < LIMB_PARALLEL_DEG)] *= LIMB_WORTH
    return _Points(points.x, points.y, points.along, weight)


def _line_share(points: _Points, places: Floats, stature: float) -> tuple[Floats, np.ndarray, Floats]:
    """Hough votes for lines from each place: best share of filled rings, its place, its reach."""
    turn = np.arange(-ORIENTATION_REACH_DEG, ORIENTATION_REACH_DEG + 1)
    whole = np.round(points.along)
    # A line has two ends: either may be the head.
    deg = (whole[:, None] + np.concatenate([turn, turn + 180])).astype(int) % BINS
    off = (points.along - whole)[:, None] - turn
    vote = points.weight[:, None] * np.exp(-0.5 * (off / ORIENTATION_SPREAD_DEG) ** 2)
    vote = np.concatenate([vote, vote], 1)
    cos, sin = _COS[deg], _SIN[deg]
    along = cos * points.x[:, None] + sin * points.y[:, None]
    beside = cos * points.y[:, None] - sin * points.x[:, None]
    share, reach = [], []
    for x, y in places:
        out = (along - (cos * np.float32(x) + sin * np.float32(y))) / stature
        by = (beside - (cos * np.float32(y) - sin * np.float32(x))) / (BESIDE * stature)
        good = (out > NEAREST) & (out < FARTHEST) & (np.abs(by) < 1.0)
        ring = ((out[good] - NEAREST) * (RINGS / (FARTHEST - NEAREST))).astype(int)
        column = ((by[good] + 1) * (OFFSETS / 2)).astype(int)
        cell = (deg[good] * OFFSETS + column) * RINGS + ring
        filled = np.bincount(cell, vote[good], minlength=BINS * OFFSETS * RINGS)
        filled = np.minimum(filled.reshape(BINS, OFFSETS, RINGS) / (FULL_RING * stature / 236), 1.0)
        best = filled.mean(2).argmax(1)
        rings = filled[np.arange(BINS), best]
        share.append(rings.mean(1))
        reach.append(((rings > 0.3) * (np.arange(RINGS) + 1)).max(1))
    origin = np.argmax(share, axis=0)
    chosen = np.array(share)[origin, np.arange(BINS)]
    length = NEAREST + np.array(reach)[origin, np.arange(BINS)] * (FARTHEST - NEAREST) / RINGS
    return (np.roll(chosen, 1) + 2 * chosen + np.roll(chosen, -1)) / 4, origin, length


def _motion_share(moved: np.ndarray, middle: Floats, places: Floats, stature: float) -> Floats:
    """Share of each ray from the hands that moved; a blurred shaft is a wedge whose middle counts most."""
    rows, cols = np.nonzero(moved[::2, ::2] > 1.0)
    x, y = 2 * cols - middle[0], 2 * rows - middle[1]
    shares = [_polar_share(x - ox, y - oy, stature) for ox, oy in places]
    return np.asarray(np.max(shares, axis=0))


def _polar_share(dx: Floats, dy: Floats, stature: float) -> Floats:
    radius = np.hypot(dx, dy) / stature
    keep = (radius > NEAREST) & (radius < FARTHEST)
    radius = radius[keep]
    deg = np.round(np.degrees(np.arctan2(dy[keep], dx[keep]))).astype(int) % BINS
    ring = ((radius - NEAREST) * (RINGS / (FARTHEST - NEAREST))).astype(int)
    area = np.pi / 180 * radius * (FARTHEST - NEAREST) / RINGS * stature**2 / 4
    filled = np.bincount(deg * RINGS + ring, 1 / area, minlength=BINS * RINGS).reshape(BINS, RINGS)
    sums = np.cumsum(np.concatenate([filled[-4:], filled, filled[:3]]), axis=0)
    smooth = (sums[7:] - sums[:-7]) / 7
    return np.asarray(np.minimum(smooth / 0.5, 1.0).mean(1))


def _away_from_arms(elbows: Floats, stature: float) -> Floats:
    """Factor (360,) that lowers the directions of the elbows, seen from the hands."""
    factor = np.ones(BINS)
    for arm in elbows:
        if not np.isfinite(arm).all() or np.hypot(*arm) < 0.03 * stature:
            continue
        away = (np.arange(BINS) - np.degrees(np.arctan2(arm[1], arm[0])) + 180) % 360 - 180
        factor *= 1 - 0.85 * np.exp(-0.5 * (away / 10.0) ** 2)
    return factor
