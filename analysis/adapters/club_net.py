"""Run time of the small shaft network: crop, forward pass, decoding of one frame.

The network sees a square crop around the golfer (three frames: colour of this one, brightness of the
neighbours) and answers with maps of 64 x 64 cells: where shaft is visible, its direction (the length of
the direction vector is a von Mises concentration), the grip and the clubhead.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.adapters.digests import checked_model
from analysis.types import Floats

SIDE = 256
CELLS = 64
CELL = SIDE // CELLS
# The network halves its picture five times.
WHOLE = 32
Part = tuple[slice, slice]
WHOLE_SQUARE: Part = (slice(0, SIDE), slice(0, SIDE))
# What the maps say where nothing was looked at: no shaft, no direction, neither grip nor head.
_UNSEEN = (-12.0, 0.0, 0.0, -30.0, -30.0)
CROP_HEIGHTS = 1.9
CENTRE_ABOVE_FEET_HEIGHTS = 0.62

# Logistic regression on held-out renders; success means a direction within 5 degrees.
_CONFIDENCE_WEIGHTS = np.array(
    [
        -0.589626,
        -1.637917,
        -0.036841,
        1.162829,
        -1.437964,
        -0.501732,
        -0.256674,
        0.551555,
        0.896921,
        0.660737,
        -2.401168,
        -1.019415,
        1.440281,
        -0.847459,
    ]
)

_GRID = np.arange(CELLS) * 4 + 1.5


@dataclass(frozen=True, slots=True)
class Crop:
    """A square of the upright picture: left, top and side in pixels."""

    x: float
    y: float
    side: float

    @property
    def scale(self) -> float:
        """Picture pixels per crop pixel."""
        return self.side / SIDE

    def shrunk(self, times: int) -> Crop:
        """The same square in a picture so many times smaller."""
        return Crop(self.x / times, self.y / times, self.side / times)

    def inside(self, width: int, height: int) -> Part:
        """Rows and columns of the crop that hold all of it that lies in a picture of this size: the rest is black.

        Their number is a multiple of 32, their first one of 4; all of them where the crop misses the picture.
        """
        return self._span(self.y, height), self._span(self.x, width)

    def _span(self, start: float, length: int) -> slice:
        low, high = (min(max(edge / self.scale, 0.0), SIDE) for edge in (-start, length - start))
        if high <= low:
            return slice(0, SIDE)
        first = CELL * math.floor(low / CELL)
        count = WHOLE * math.ceil((high - first) / WHOLE)
        # What is looked at beyond the picture lies on both sides of it.
        first -= CELL * int((first + count - high) / 2 / CELL)
        first = min(max(first, 0), SIDE - count)
        return slice(first, first + count)

    def to_picture(self, xy: Floats) -> Floats:
        """Crop pixels (..., 2) to picture pixels."""
        return np.asarray((xy + 0.5) * self.scale - 0.5 + np.array([self.x, self.y]))


@dataclass(frozen=True, slots=True)
class ShaftGlimpse:
    """What the network says about one frame, in picture pixels and degrees."""

    deg: float
    confidence: float
    grip_xy: Floats
    head_xy: Floats
    grip_confidence: float
    head_confidence: float
    field_deg: float
    keypoint_deg: float


def crop_around(centre_x: float, feet_y: float, body_height: float) -> Crop:
    """The crop for a golfer.

    Parameters
    ----------
    centre_x, feet_y, body_height : float
        Pixels; the height is the standing height of the person.

    Raises
    ------
    ValueError
        If a value is not finite or the height is not positive.
    """
    if not np.isfinite([centre_x, feet_y, body_height]).all() or body_height <= 0:
        raise ValueError(f"body_height must be positive and all finite, got {body_height}")
    side = _even(CROP_HEIGHTS * body_height)
    top = feet_y - CENTRE_ABOVE_FEET_HEIGHTS * body_height - side / 2
    return Crop(_even(centre_x - side / 2), _even(top), side)


def _even(value: float) -> float:
    """A whole number of pixels in a picture of half the size, too."""
    return 2.0 * round(value / 2)


def cut(rgb: np.ndarray, crop: Crop) -> np.ndarray:
    """The crop as (256, 256, 3) uint8; outside the picture it is black.

    A large part is halved by averaging first, so that a thin shaft keeps its contrast: averaging areas of any other
    size takes ten times as long, and the network answers alike.
    """
    import cv2

    height, width = rgb.shape[:2]
    x0, y0, side = int(crop.x), int(crop.y), int(crop.side)
    xa, ya, xb, yb = max(0, x0), max(0, y0), min(width, x0 + side), min(height, y0 + side)
    square = np.zeros((SIDE, SIDE, 3), np.uint8)
    # Only the part inside the picture is shrunk: a tall picture leaves much of the square empty.
    left, right = (round((x - x0) / crop.scale) for x in (xa, xb))
    top, bottom = (round((y - y0) / crop.scale) for y in (ya, yb))
    if right > left and bottom > top:
        part = rgb[ya:yb, xa:xb]
        while part.shape[0] >= 2 * (bottom - top) and part.shape[1] >= 2 * (right - left):
            part = halved(part)
        square[top:bottom, left:right] = cv2.resize(part, (right - left, bottom - top))
    return square


def halved(rgb: np.ndarray) -> np.ndarray:
    """A picture (H, W, 3) of half the size, each pixel the mean of four; an odd last row or column is left out."""
    import cv2

    height, width = rgb.shape[0] // 2, rgb.shape[1] // 2
    return np.asarray(
        cv2.resize(rgb[: 2 * height, : 2 * width], (width, height), interpolation=cv2.INTER_AREA)
    )


class ShaftNet:
    """The network itself; one instance belongs to one thread."""

    def __init__(self) -> None:
        import cv2
        import onnxruntime

        self._cv2: Any = cv2
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        path = str(checked_model("shaft.onnx"))
        self._net: Any = onnxruntime.InferenceSession(path, options, providers=["CPUExecutionProvider"])

    def look(
        self,
        now: np.ndarray,
        before: np.ndarray,
        after: np.ndarray,
        crop: Crop,
        part: Part = WHOLE_SQUARE,
    ) -> ShaftGlimpse:
        """Decode the frame ``now`` with its neighbours.

        Parameters
        ----------
        now, before, after : ndarray of shape (256, 256, 3), uint8
        crop : Crop
        part : pair of slice
            Rows and columns that are looked at, from ``Crop.inside``.
        """
        now, before, after = (picture[part] for picture in (now, before, after))
        planes = np.empty((1, 5, *now.shape[:2]), np.float32)
        planes[0, :3] = now.transpose(2, 0, 1)
        planes[0, 3], planes[0, 4] = self._grey(before), self._grey(after)
        planes /= 255
        seen, clip_level = self._net.run(["dense", "glob"], {"x": planes})
        dense = np.empty((len(_UNSEEN), CELLS, CELLS))
        dense[:] = np.array(_UNSEEN)[:, None, None]
        rows, columns = (slice(s.start // CELL, s.stop // CELL) for s in part)
        dense[:, rows, columns] = seen[0]
        return decode(dense, clip_level[0].astype(float), crop)

    def _grey(self, rgb: np.ndarray) -> np.ndarray:
        return np.asarray(self._cv2.cvtColor(np.ascontiguousarray(rgb), self._cv2.COLOR_RGB2GRAY))


def _peak(logits: Floats) -> tuple[Floats, float]:
    """Centre of the strongest 5 x 5 patch in crop pixels, and its share of the probability."""
    p = np.exp(logits - logits.max())
    p /= p.sum()
    row, col = divmod(int(p.argmax()), CELLS)
    rows = slice(max(0, row - 2), min(CELLS, row + 3))
    cols = slice(max(0, col - 2), min(CELLS, col + 3))
    patch = p[rows, cols]
    mass = float(patch.sum())
    x = float((patch * _GRID[cols][None]).sum() / mass)
    y = float((patch * _GRID[rows][:, None]).sum() / mass)
    return np.array([x, y]), mass


def _sigmoid(z: Any) -> Any:
    return 1 / (1 + np.exp(-np.clip(z, -60, 60)))


def _angle_gap(a: float, b: float) -> float:
    return float((a - b + 180) % 360 - 180)


def _degrees(vector: Floats) -> float:
    return float(np.degrees(np.arctan2(vector[1], vector[0])))


def _confidence_row(features: list[float]) -> Floats:
    f = np.array(features)
    return np.concatenate([f, np.sqrt(f[6:8]), [f[4] * f[0], 1.0]])


def decode(dense: Floats, clip_level: Floats, crop: Crop) -> ShaftGlimpse:
    """Turn the network's maps into one direction with a confidence.

    Parameters
    ----------
    dense : ndarray of shape (5, 64, 64)
        Shaft mask logit, direction x and y, grip logit, head logit.
    clip_level : ndarray of shape (4,)
        Logits "shaft seen", "head seen" and a direction vector.
    crop : Crop
        Where the maps lie in the picture.
    """
    return decode_with_features(dense, clip_level, crop)[0]


def decode_with_features(dense: Floats, clip_level: Floats, crop: Crop) -> tuple[ShaftGlimpse, Floats]:
    """``decode``, and the row of features (14,) the confidence was told from."""
    mask = _sigmoid(dense[0])
    grip, grip_p = _peak(dense[3])
    head, head_p = _peak(dense[4])
    field = dense[1:3]
    kappa = np.hypot(field[0], field[1]) + 1e-6
    dx, dy = _GRID[None] - grip[0], _GRID[:, None] - grip[1]
    radius = np.hypot(dx, dy) + 1e-6
    # A cell counts where its own direction says it should lie, seen from the grip.
    agrees = np.clip((dx * field[0] + dy * field[1]) / (radius * kappa), 0, 1) ** 4
    weight = mask * mask * np.where(radius < 10, 0.6, agrees)
    mass = float(weight.sum())
    total = (field * weight).sum((1, 2))
    coherence = float(np.hypot(*total) / ((kappa * weight).sum() + 1e-6))
    by_field, by_points, by_clip = _degrees(total), _degrees(head - grip), _degrees(clip_level[2:4])
    length = float(np.hypot(*(head - grip)))
    deg = _fuse(by_field, by_points, grip_p * head_p * min(1.0, length / 60), mass / (mass + 6) * coherence)
    sharpness = min(300.0, float(np.hypot(clip_level[2], clip_level[3])))
    features = [
        float(np.log1p(mass)),
        coherence,
        grip_p,
        head_p,
        float(_sigmoid(clip_level[0])),
        float(_sigmoid(clip_level[1])),
        min(abs(_angle_gap(by_points, by_field)), 60) / 60,
        min(abs(_angle_gap(by_clip, deg)), 60) / 60,
        float(np.log1p(sharpness)),
        length / SIDE,
    ]
    row = _confidence_row(features)
    glimpse = ShaftGlimpse(
        deg=_angle_gap(deg, 0.0),
        confidence=float(_sigmoid(row @ _CONFIDENCE_WEIGHTS)),
        grip_xy=crop.to_picture(grip),
        head_xy=crop.to_picture(head),
        grip_confidence=grip_p,
        head_confidence=head_p,
        field_deg=by_field,
        keypoint_deg=by_points,
    )
    return glimpse, row


def _fuse(by_field: float, by_points: float, w_points: float, w_field: float) -> float:
    """The field's direction, drawn to the key points' one where both agree; else the stronger."""
    gap = _angle_gap(by_points, by_field)
    if abs(gap) < 12:
        return by_field + gap * w_points / (w_points + w_field + 1e-6)
    return by_points if w_points > w_field else by_field
