"""A coach's drawings painted into a picture, with the double outline that shows on grass and sky alike."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

Picture = NDArray[np.uint8]
Mark = Mapping[str, Any]

DARK, LIGHT, INK = (11, 15, 14), (255, 255, 255), (240, 200, 0)
# Widths in shares of the picture's shorter side.
WIDTHS = ((0.0135, DARK), (0.0095, LIGHT), (0.0055, INK))
WEIGHTS = {"thin": 0.6, "normal": 1.0, "strong": 1.7}
# A dash and the gap after it, in shares of the picture's shorter side.
DASH, GAP = 0.03, 0.022
WORD_SIZE = 0.05
BARB = 0.045
SUB_BITS = 3


class MarkPainter:
    """Paints marks as the browser's layer does: same shapes, same places, same words."""

    def painted(self, picture: Picture, marks: Sequence[Mark]) -> Picture:
        """A copy with the marks on it.

        Parameters
        ----------
        picture : ndarray of shape (H, W, 3), uint8
        marks : sequence of mapping
            ``kind``, ``points`` (shares of width and height, 0..1), ``label``; where they differ from the usual,
            ``weight`` ("thin", "normal", "strong") and ``is_dashed``.

        Returns
        -------
        ndarray of shape (H, W, 3), uint8
            `picture` itself when there is nothing to paint.
        """
        if not marks:
            return picture
        out = np.ascontiguousarray(picture).copy()
        for mark in marks:
            self._paint(out, mark)
        return out

    def _paint(self, out: Picture, mark: Mark) -> None:
        height, width = out.shape[:2]
        points = np.asarray(mark["points"], dtype=float) * (width, height)
        lines, short = _lines(mark["kind"], points, width), min(width, height)
        if mark.get("is_dashed"):
            lines = [dash for line in lines for dash in _dashes(line, DASH * short, GAP * short)]
        for share, colour in WIDTHS:
            thick = max(1, round(share * short * WEIGHTS[mark.get("weight") or "normal"]))
            for line in lines:
                fixed = np.round(line * (1 << SUB_BITS)).astype(np.int32).reshape(-1, 1, 2)
                cv2.polylines(out, [fixed], False, colour, thick, cv2.LINE_AA, SUB_BITS)
        if words := caption(mark, width / height):
            _write(out, mark["kind"], points, words)


def _lines(kind: str, points: NDArray[np.float64], width: int) -> list[NDArray[np.float64]]:
    if kind == "text" or len(points) < 2:
        return []
    if kind == "ellipse":
        middle, half = points[:2].mean(0), np.abs(points[0] - points[1]) / 2
        turn = np.linspace(0, 2 * np.pi, 65)
        return [middle + half * np.stack([np.cos(turn), np.sin(turn)], 1)]
    if kind == "arrow":
        return [points[:2], _barbs(points[0], points[1], BARB * width)]
    return [points]


def _dashes(line: NDArray[np.float64], dash: float, gap: float) -> list[NDArray[np.float64]]:
    """Pieces of a line, each ``dash`` long along it and ``gap`` apart."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    pieces = []
    for start in np.arange(0.0, along[-1], dash + gap):
        end = min(start + dash, along[-1])
        inner = line[(along > start) & (along < end)]
        ends = [[np.interp(at, along, line[:, axis]) for axis in (0, 1)] for at in (start, end)]
        pieces.append(np.vstack([ends[0], inner, ends[1]]))
    return pieces


def _barbs(tail: NDArray[np.float64], tip: NDArray[np.float64], length: float) -> NDArray[np.float64]:
    back = math.atan2(tail[1] - tip[1], tail[0] - tip[0])
    ends = [tip + length * np.array([math.cos(back + side), math.sin(back + side)]) for side in (-0.45, 0.45)]
    return np.stack([ends[0], tip, ends[1]])


def caption(mark: Mark, aspect: float) -> str:
    """The words beside a drawing: its label, and for an angle its degrees as the eye sees them, 0..180."""
    label = str(mark.get("label") or "")
    if mark["kind"] != "angle" or len(mark["points"]) < 3:
        return label
    a, vertex, b = (np.asarray(point, dtype=float) * (aspect, 1) for point in mark["points"])
    one, other = a - vertex, b - vertex
    if not one.any() or not other.any():
        return label
    cross, dot = one[0] * other[1] - one[1] * other[0], float(one @ other)
    return f"{label} {round(math.degrees(abs(math.atan2(cross, dot))))}°".strip()


def _write(out: Picture, kind: str, points: NDArray[np.float64], words: str) -> None:
    height, width = out.shape[:2]
    size = round(WORD_SIZE * min(width, height))
    anchor = points[1] if kind == "angle" else points[0]
    away = 0.0 if kind == "text" else 0.4 * size
    ink = _word(words, size)
    to_left = anchor[0] > 0.7 * width
    left = round(anchor[0] - away - ink.shape[1] if to_left else anchor[0] + away)
    top = round(anchor[1] + (0 if kind == "text" else 1.1 * size) - size)
    _blend(out, ink, left, top)


@lru_cache(maxsize=256)
def _word(words: str, size: int) -> NDArray[np.float32]:
    """RGBA of a word, 0..1."""
    font = ImageFont.load_default(size)
    edge = max(2, size // 9)
    box = font.getbbox(words, stroke_width=edge)
    image = Image.new("RGBA", (math.ceil(box[2]) + edge, math.ceil(box[3]) + edge), (0, 0, 0, 0))
    ImageDraw.Draw(image).text((0, 0), words, font=font, fill=LIGHT, stroke_width=edge, stroke_fill=DARK)
    return np.asarray(image, dtype=np.float32) / np.float32(255)


def _blend(out: Picture, ink: NDArray[np.float32], left: int, top: int) -> None:
    height, width = out.shape[:2]
    x0, y0 = max(0, left), max(0, top)
    x1, y1 = min(width, left + ink.shape[1]), min(height, top + ink.shape[0])
    if x1 <= x0 or y1 <= y0:
        return
    part = ink[y0 - top : y1 - top, x0 - left : x1 - left]
    under = out[y0:y1, x0:x1].astype(np.float32)
    alpha = part[:, :, 3:]
    out[y0:y1, x0:x1] = (part[:, :, :3] * 255 * alpha + under * (1 - alpha)).round().astype(np.uint8)
