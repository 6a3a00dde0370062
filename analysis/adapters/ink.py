"""Lines and words on pictures: the only module that draws."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from analysis.sheet.body import Body, Line
from analysis.sheet.tiles import NO_BREAK

Picture = NDArray[np.uint8]
Colour = tuple[int, int, int]

# The colour-blind-safe pair of the site (Okabe and Ito 2008): blue and vermilion, RGB.
LEAD: Colour = (0, 114, 178)
TRAIL: Colour = (213, 94, 0)
INK: Colour = (17, 24, 22)
SOFT: Colour = (84, 96, 92)
PAPER: Colour = (255, 255, 255)
ACROSS: Colour = (40, 40, 40)
# Of a picture's shorter side.
_LINE, _DASH = 0.0075, 0.03


@cache
def _face() -> Any:
    return cv2.FontFace("sans")


def text_size(words: str, size: int, weight: int = 400) -> int:
    """Width of one line of words in pixels."""
    box = cv2.getTextSize((10000, 1000), words, (0, 500), _face(), size, weight)
    return int(box[2])


def write(
    picture: Picture, words: str, left: int, baseline: int, size: int, colour: Colour = INK, weight: int = 400
) -> None:
    """Words on the picture, in place; ``size`` is the letters' height in pixels, weight 200 to 900."""
    cv2.putText(picture, words, (left, baseline), colour, _face(), size, weight)


def wrapped(words: str, size: int, width: int, weight: int = 400) -> list[str]:
    """Words broken into lines no wider than ``width`` pixels, where there are spaces that may break."""
    lines: list[str] = []
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_size(longer, size, weight) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return [line.replace(NO_BREAK, " ") for line in lines]


def draw_body(picture: Picture, body: Body, scale: float, offset: Sequence[float]) -> None:
    """Lines of a golfer in place: lead solid, trail dashed, both named, shaft double.

    Parameters
    ----------
    picture : ndarray of shape (H, W, 3), uint8
    body : Body
        In pixels of the upright frame.
    scale, offset : float, (x, y)
        Picture place = (frame place - offset) * scale.
    """
    unit = min(picture.shape[:2])
    thick = max(2, round(_LINE * unit))

    def placed(lines: Sequence[Line]) -> list[Line]:
        return [((a - np.asarray(offset)) * scale, (b - np.asarray(offset)) * scale) for a, b in lines]

    across, trail, lead = placed(body.across), placed(body.trail), placed(body.lead)
    _outlined(picture, across, ACROSS, thick)
    _outlined(picture, _dashes(trail, _DASH * unit), TRAIL, thick)
    _outlined(picture, lead, LEAD, thick)
    if body.shaft is not None:
        shaft = placed([body.shaft])
        _strokes(picture, shaft, INK, round(2.6 * thick))
        _strokes(picture, shaft, PAPER, round(1.7 * thick))
        _strokes(picture, shaft, INK, max(1, round(0.5 * thick)))
    names = {word: (place - np.asarray(offset)) * scale for word, place in body.names.items()}
    _name_sides(picture, names, round(0.042 * unit))


def _outlined(picture: Picture, lines: Sequence[Line], colour: Colour, thick: int) -> None:
    """A dark and a light outline, so that lines read on grass and on sky."""
    _strokes(picture, lines, INK, round(2.3 * thick))
    _strokes(picture, lines, PAPER, round(1.8 * thick))
    _strokes(picture, lines, colour, thick)


def _strokes(picture: Picture, lines: Sequence[Line], colour: Colour, thick: int) -> None:
    for a, b in lines:
        start, end = (int(round(a[0])), int(round(a[1]))), (int(round(b[0])), int(round(b[1])))
        cv2.line(picture, start, end, colour, thick, cv2.LINE_AA)


def _dashes(lines: Sequence[Line], dash: float) -> list[Line]:
    out: list[Line] = []
    for a, b in lines:
        length = float(np.hypot(*(b - a)))
        count = max(1, round(length / (1.7 * dash)))
        for k in range(count):
            low = (k + 0.2) / count
            out.append((a + low * (b - a), a + (low + 0.6 / count) * (b - a)))
    return out


def _name_sides(picture: Picture, names: dict[str, NDArray[np.float64]], size: int) -> None:
    """The words "lead" and "trail" outside the knees, away from each other."""
    middle = float(np.mean([place[0] for place in names.values()])) if names else 0.0
    height, width = picture.shape[:2]
    for word, place in names.items():
        long = text_size(word, size, 700)
        outward = 1 if (place[0] > middle or (len(names) == 1)) else -1
        left = place[0] + 0.9 * size if outward > 0 else place[0] - 0.9 * size - long
        low = place[1] + (0.5 * size if word == "lead" else -0.9 * size if _close(names) else 0.5 * size)
        x, y = int(np.clip(left, 4, width - long - 4)), int(np.clip(low, size + 4, height - 6))
        box = ((x - 6, y - size), (x + long + 6, y + round(0.38 * size)))
        cv2.rectangle(picture, *box, PAPER, -1, cv2.LINE_AA)
        write(picture, word, x, y, size, LEAD if word == "lead" else TRAIL, 700)


def _close(names: dict[str, NDArray[np.float64]]) -> bool:
    places = list(names.values())
    return len(places) == 2 and abs(float(places[0][0] - places[1][0])) < 20
