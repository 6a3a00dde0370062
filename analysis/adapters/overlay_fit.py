"""One golfer over another: both on the same spot, as tall as each other. The browser's ``core/overlayfit.js`` does the
same; ``tests/js/overlay_cases.json`` holds the two together."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

SEEN = 0.5
FEET = ("left_ankle", "right_ankle", "left_heel", "right_heel")
SHOULDERS = ("left_shoulder", "right_shoulder")
# Frames around the wanted one; a single one may miss a joint.
AROUND = 3

Picture = NDArray[np.uint8]
Size = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Stance:
    """Middle of the feet (px from the left and from the top), and the distance from there to the shoulders (px)."""

    x: float
    y: float
    tall: float


@dataclass(frozen=True, slots=True)
class Fit:
    """``first = scale * second + (dx, dy)`` in pixels; ``flip``: the second picture is mirrored before."""

    scale: float
    dx: float
    dy: float
    flip: bool
    by_feet: bool


def stance_at(tracks: Mapping[str, Any] | None, us: float, size: Size) -> Stance | None:
    """Where a golfer stands.

    Parameters
    ----------
    tracks : mapping or None
        ``t_us`` (T,) and ``joints``: name to T entries ``[x, y, confidence]`` in shares of the picture, or None.
    us : float
        Time of the address, microseconds.
    size : (int, int)
        Width and height of the picture, px.

    Returns
    -------
    Stance or None
        None where the feet or the shoulders are not seen.
    """
    if not tracks or not tracks["t_us"]:
        return None
    row = int(np.argmin(np.abs(np.array(tracks["t_us"], float) - us)))
    feet, top = _middle(tracks, FEET, row, size), _middle(tracks, SHOULDERS, row, size)
    if feet is None or top is None:
        return None
    tall = math.dist(feet, top)
    return Stance(*feet, tall) if tall > 0 else None


def fit_over(
    first: Stance | None, first_size: Size, second: Stance | None, second_size: Size, *, flip: bool
) -> Fit:
    """How the second picture lies over the first. Without both stances it fills the first picture's height."""
    if first is None or second is None:
        scale = first_size[1] / second_size[1]
        return Fit(scale, (first_size[0] - second_size[0] * scale) / 2, 0.0, flip, False)
    scale = first.tall / second.tall
    x = second_size[0] - second.x if flip else second.x
    return Fit(scale, first.x - scale * x, first.y - scale * second.y, flip, True)


def laid_over(first: Picture, second: Picture, fit: Fit, share: float) -> Picture:
    """The second picture over the first, ``share`` (0..1) of it; where it does not reach, the first stays."""
    height, width = first.shape[:2]
    moved = np.array([[fit.scale, 0.0, fit.dx], [0.0, fit.scale, fit.dy]])
    other = second[:, ::-1] if fit.flip else second
    covered = np.full(other.shape[:2], 255, np.uint8)
    warped = cv2.warpAffine(np.ascontiguousarray(other), moved, (width, height))
    reach = cv2.warpAffine(covered, moved, (width, height))[..., None].astype(np.float32) * (share / 255)
    mixed = first.astype(np.float32) * (1 - reach) + warped.astype(np.float32) * reach
    picture: Picture = np.clip(np.rint(mixed), 0, 255).astype(np.uint8)
    return picture


def _middle(
    tracks: Mapping[str, Any], names: tuple[str, ...], row: int, size: Size
) -> tuple[float, float] | None:
    count = len(tracks["t_us"])
    rows = range(max(0, row - AROUND), min(count, row + AROUND + 1))
    found = [tracks["joints"].get(name, [None] * count)[at] for name in names for at in rows]
    seen = [point for point in found if point is not None and point[2] >= SEEN]
    if not seen:
        return None
    return (
        sum(point[0] for point in seen) / len(seen) * size[0],
        sum(point[1] for point in seen) / len(seen) * size[1],
    )
