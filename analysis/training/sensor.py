"""What a phone makes of linear light: noise, tone curve, sharpening."""

from __future__ import annotations

import numpy as np

from analysis.types import Floats


def tone(linear: np.ndarray, exposure: float = 0.5) -> np.ndarray:
    """Display values 0..1 of linear light (a filmic curve: Narkowicz's fit, then gamma 2.2)."""
    x = np.maximum(linear * exposure, 0)
    x = (x * (2.51 * x + 0.03)) / (x * (2.43 * x + 0.59) + 0.14)
    return np.asarray(np.clip(x, 0, 1) ** (1 / 2.2))


def with_noise(linear: np.ndarray, level: float, draw: np.random.Generator) -> np.ndarray:
    """Shot and read noise; ``level`` 0 none, 1 a dull day, 2 indoors."""
    s = level * 0.0014
    spread = np.sqrt(np.maximum(linear, 0) * s + s * s * 4) * 0.55
    return np.asarray(linear + draw.standard_normal(linear.shape, dtype=np.float32) * spread)


def sharpened(picture: np.ndarray, amount: float, sigma: float = 1.2) -> np.ndarray:
    """Unsharp mask as phones apply it."""
    import cv2

    return np.asarray(picture + amount * (picture - cv2.GaussianBlur(picture, (0, 0), sigma)))


def vignette(width: int, height: int) -> Floats:
    """Fall-off toward the corners (H, W, 1)."""
    y, x = np.mgrid[0:height, 0:width]
    return np.asarray(1 - 0.22 * ((x / width - 0.5) ** 2 + (y / height - 0.5) ** 2))[..., None]
