"""One phone's way with a picture, drawn once for a sample: size, colours, noise, sharpening, compression."""

from __future__ import annotations

import numpy as np

from analysis.training.labels import RENDER_SIDE, SIDE
from analysis.types import Floats

_GREY = np.array([0.299, 0.587, 0.114], np.float32)


class Phone:
    """Draws its habits on creation; ``develop`` keeps them, and the exposure of its first picture."""

    def __init__(self, draw: np.random.Generator) -> None:
        self.draw, self.exposure = draw, 0.0
        g = draw
        self.source = int(np.clip(np.exp(g.uniform(np.log(210), np.log(640))), 210, RENDER_SIDE))
        balance = np.exp(g.normal(size=3) * 0.10)
        self.balance = (balance / balance.mean()).astype(np.float32)
        self.noise = np.float32(10 ** g.uniform(-3.2, -1.3))
        self.sharpen = g.uniform(0, 1.2) if g.random() < 0.75 else -g.uniform(0.3, 1.1)
        self.quality = int(g.uniform(18, 95))
        self.gamma = np.float32(np.exp(g.normal() * 0.15) / 2.2)
        self.mean = g.uniform(0.22, 0.55)
        self.saturation = np.float32(g.uniform(0.6, 1.35))
        self.lift = np.float32(g.uniform(0, 0.06) if g.random() < 0.5 else 0.0)
        self.padding = 0 if g.random() < 0.8 else int(g.integers(0, 255))

    def develop(self, linear: np.ndarray, inside: tuple[float, float, float, float]) -> np.ndarray:
        """A linear crop (R, R, 3) as stored pixels (256, 256, 3) uint8.

        Parameters
        ----------
        linear : ndarray
        inside : tuple of float
            Left, top, right, bottom of the phone's picture in the crop, render pixels; outside is padding.
        """
        import cv2

        size = (self.source, self.source)
        light = cv2.resize(np.ascontiguousarray(linear), size, interpolation=cv2.INTER_AREA) * self.balance
        self.exposure = self.exposure or self.mean**2.2 / (float(np.mean(np.minimum(light, 3))) + 1e-3) * 1.9
        light = light * np.float32(self.exposure)
        grain = self.draw.standard_normal(light.shape, dtype=np.float32)
        light = light + grain * np.sqrt(np.maximum(light, 0) + 0.02) * self.noise
        picture = self._toned(light)
        if self.sharpen > 0:
            picture = picture + self.sharpen * (picture - cv2.GaussianBlur(picture, (0, 0), 0.9))
        else:
            picture = cv2.GaussianBlur(picture, (0, 0), -self.sharpen)
        stored = np.clip(picture * 255, 0, 255).astype(np.uint8)
        if self.quality < 92:
            packed = cv2.imencode(".jpg", stored, [cv2.IMWRITE_JPEG_QUALITY, self.quality])[1]
            stored = np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR))
        how = cv2.INTER_AREA if self.source > SIDE else cv2.INTER_LINEAR
        return self._padded(np.asarray(cv2.resize(stored, (SIDE, SIDE), interpolation=how)), inside)

    def _toned(self, light: np.ndarray) -> np.ndarray:
        x = np.maximum(light * np.float32(0.6), 0)
        x = (x * (2.51 * x + 0.03)) / (x * (2.43 * x + 0.59) + 0.14)
        picture = np.clip(x, 0, 1) ** self.gamma
        grey = (picture @ _GREY)[..., None]
        picture = grey * (1 - self.saturation) + picture * self.saturation
        return np.asarray(self.lift + picture * (1 - self.lift), np.float32)

    def _padded(self, stored: np.ndarray, inside: tuple[float, float, float, float]) -> np.ndarray:
        left, top, right, bottom = (int(round(v * SIDE / RENDER_SIDE)) for v in inside)
        stored[: max(0, top)] = self.padding
        stored[:, : max(0, left)] = self.padding
        stored[max(0, bottom) :] = self.padding
        stored[:, max(0, right) :] = self.padding
        return stored


def grey(rgb: np.ndarray) -> np.ndarray:
    """Brightness (H, W) uint8."""
    return np.asarray((rgb @ _GREY).astype(np.uint8))


def whole(points: Floats) -> Floats:
    """Render pixels to crop pixels."""
    return np.asarray(points * SIDE / RENDER_SIDE)
