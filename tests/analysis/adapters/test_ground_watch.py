"""Where the ground lies in a shaken picture, against shifts that are known since the test made them."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.adapters.ground_watch import ground_steps

SIZE, TOP = (300, 260), 180


def ground(seed: int = 4) -> np.ndarray:
    """A picture of soft blobs, so that parts of a pixel can be told."""
    import cv2

    draw = np.random.default_rng(seed)
    coarse = draw.uniform(40, 215, (SIZE[0] // 6, SIZE[1] // 6)).astype(np.float32)
    return np.asarray(cv2.resize(coarse, SIZE[::-1], interpolation=cv2.INTER_CUBIC))


def shifted(picture: np.ndarray, dx: float, dy: float) -> np.ndarray:
    import cv2

    move = np.array([[1, 0, dx], [0, 1, dy]], np.float32)
    moved = cv2.warpAffine(picture, move, SIZE[::-1], flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    return np.clip(moved, 0, 255).astype(np.uint8)


@pytest.mark.unit
def test_the_grounds_way_is_told_to_a_tenth_of_a_pixel() -> None:
    picture = ground()
    way = np.array([[0.0, 0.0], [0.4, -0.3], [1.7, 0.9], [-2.2, 3.1], [0.0, 0.0]])
    found = ground_steps([shifted(picture, dx, dy) for dx, dy in way], TOP)
    assert np.abs(found - way).max() < 0.1


@pytest.mark.unit
def test_what_moves_on_the_ground_is_outvoted() -> None:
    picture, noise = ground(), np.random.default_rng(2)
    pictures = []
    for k in range(6):
        frame = shifted(picture, 0.5 * k, 0.0)
        # A club or a shadow: a patch of its own that moves the other way.
        frame[200:240, 120 - 6 * k : 170 - 6 * k] = noise.integers(0, 255, (40, 50))
        pictures.append(frame)
    found = ground_steps(pictures, TOP)
    assert np.abs(found - np.arange(6)[:, None] * [0.5, 0.0]).max() < 0.15


@pytest.mark.unit
def test_above_the_line_nothing_counts_and_bare_ground_says_nothing() -> None:
    still = shifted(ground(), 0, 0)
    above = still.copy()
    above[:TOP] = shifted(ground(9), 5, 5)[:TOP]
    assert np.abs(ground_steps([still, above], TOP)).max() < 0.05
    bare = np.full(SIZE, 90, np.uint8)
    assert np.isnan(ground_steps([bare, bare], TOP)).all()
    assert ground_steps([], TOP).shape == (0, 2)
    assert np.isnan(ground_steps([still], SIZE[0])).all()
