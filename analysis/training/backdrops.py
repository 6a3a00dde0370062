"""Flat pictures behind the golfer, drawn at random: sky and ground, trees, walls, people, nets, lines."""

from __future__ import annotations

from typing import Any

import numpy as np

from analysis.training.set_pieces import random_colour
from analysis.types import Floats


def backdrop(side: int, draw: np.random.Generator) -> np.ndarray:
    """A linear picture (side, side, 3) float32."""
    import cv2

    horizon = int(side * draw.uniform(0.25, 0.75))
    picture = _sky_and_ground(cv2, side, horizon, draw)
    if draw.random() < 0.6:
        _trees(cv2, picture, horizon, draw)
    for _ in range(draw.integers(0, 4)):
        x, y, w, h = (
            int(draw.integers(*r)) for r in ((-100, side), (-100, side), (20, side), (10, side // 2))
        )
        thick = -1 if draw.random() < 0.7 else int(draw.integers(1, 8))
        cv2.rectangle(picture, (x, y), (x + w, y + h), _shown(draw), thick)
    for _ in range(draw.integers(0, 3)):
        _person(cv2, picture, horizon, draw)
    if draw.random() < 0.35:
        picture = _net(cv2, picture, draw)
    for _ in range(draw.integers(0, 9) if draw.random() < 0.7 else 0):
        _pole(cv2, picture, draw)
    if draw.random() < 0.3:
        picture = cv2.GaussianBlur(picture, (0, 0), draw.uniform(0.6, 6))
    return np.asarray(np.clip(picture, 0, 1) ** 2.2, np.float32)


def _shown(draw: np.random.Generator) -> tuple[float, ...]:
    """A random colour as a screen shows it."""
    return tuple(float(v) for v in random_colour(draw) ** 0.45)


def _texture(cv2: Any, side: int, draw: np.random.Generator, octaves: tuple[int, ...]) -> np.ndarray:
    total = np.zeros((side, side), np.float32)
    for i, k in enumerate(octaves):
        columns = max(2, int(k * draw.uniform(0.4, 2.5)))
        grain = draw.random((k, columns), dtype=np.float32) - 0.5
        wide = cv2.resize(grain, (side, side), interpolation=cv2.INTER_CUBIC)
        total += wide * np.float32(draw.uniform(0.2, 1) / (1 + 0.5 * i))
    return total


def _sky_and_ground(cv2: Any, side: int, horizon: int, draw: np.random.Generator) -> np.ndarray:
    blue, green = np.array([0.6, 0.75, 0.95]), np.array([0.35, 0.5, 0.2])
    sky = random_colour(draw) ** 0.45 if draw.random() < 0.5 else blue * draw.uniform(0.5, 1.05)
    ground = random_colour(draw) ** 0.45 if draw.random() < 0.4 else green * draw.uniform(0.5, 1.3)
    fall = np.linspace(0, 1, side, dtype=np.float32)[:, None, None]
    picture = np.empty((side, side, 3), np.float32)
    picture[:] = sky * (1 - 0.3 * fall)
    picture[horizon:] = ground * (0.8 + 0.3 * fall[horizon:])
    coarse = _texture(cv2, side, draw, (4, 12, 40, 120))[..., None]
    picture[horizon:] += coarse[horizon:] * np.float32(draw.uniform(0.05, 0.4))
    picture[:horizon] += coarse[:horizon] * np.float32(draw.uniform(0, 0.15))
    picture += (_texture(cv2, side, draw, (80, 160, 320)) * np.float32(draw.uniform(0, 0.25)))[..., None]
    return picture


def _trees(cv2: Any, picture: np.ndarray, horizon: int, draw: np.random.Generator) -> None:
    side = len(picture)
    green = np.array([0.15, 0.25, 0.1]) * draw.uniform(0.5, 2)
    for _ in range(draw.integers(10, 90)):
        centre = (int(draw.integers(side)), int(horizon - abs(draw.normal()) * side * 0.08))
        axes = (int(draw.uniform(4, 60)), int(draw.uniform(4, 60)))
        colour = tuple(float(v) for v in green * draw.uniform(0.5, 1.5))
        cv2.ellipse(picture, centre, axes, 0, 0, 360, colour, -1)


def _person(cv2: Any, picture: np.ndarray, horizon: int, draw: np.random.Generator) -> None:
    x, y = int(draw.integers(len(picture))), int(horizon + draw.normal() * 30)
    height = draw.uniform(20, 120)
    cv2.ellipse(picture, (x, y), (int(height * 0.18), int(height * 0.45)), 0, 0, 360, _shown(draw), -1)
    cv2.circle(picture, (x, int(y - height * 0.55)), int(height * 0.12), _shown(draw), -1)


def _net(cv2: Any, picture: np.ndarray, draw: np.random.Generator) -> np.ndarray:
    side = len(picture)
    turn = draw.uniform(0, np.pi) if draw.random() < 0.3 else draw.normal() * 0.05
    apart, colour, thick = draw.uniform(6, 60), _shown(draw), int(draw.integers(1, 3))
    drawn = picture.copy()
    for angle in (turn, turn + np.pi / 2):
        if draw.random() < 0.25:
            continue
        along, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        for k in np.arange(-side, side, apart):
            middle = np.full(2, side / 2) + across * k
            line(cv2, drawn, middle - along * side, middle + along * side, colour, thick)
    share = draw.uniform(0.15, 1)
    return np.asarray(picture * (1 - share) + drawn * share, np.float32)


def _pole(cv2: Any, picture: np.ndarray, draw: np.random.Generator) -> None:
    middle = draw.uniform(0, len(picture), 2)
    turn = np.pi / 2 + draw.normal() * 0.06 if draw.random() < 0.45 else draw.uniform(0, np.pi)
    half = np.array([np.cos(turn), np.sin(turn)]) * draw.uniform(30, len(picture)) / 2
    thick = int(draw.integers(1, 9) if draw.random() < 0.4 else draw.integers(1, 4))
    line(cv2, picture, middle - half, middle + half, _shown(draw), thick)


def line(
    cv2: Any, picture: np.ndarray, start: Floats, end: Floats, colour: tuple[float, ...], thick: int
) -> None:
    """A smooth line with ends between the pixels."""
    a, b = (tuple(int(v * 16) for v in p) for p in (start, end))
    cv2.line(picture, a, b, colour, thick, cv2.LINE_AA, 4)
