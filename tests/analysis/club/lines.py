"""Drawn pictures of a shaft, with known angle, for the line search."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from analysis.adapters.shaft_lines import ShaftEvidence, background, shaft_evidence
from analysis.types import Floats

STATURE = 236.0
HANDS = np.array([[200.0, 190.0]])
LIMBS = np.array([[[200.0, 110.0], [200.0, 185.0]], [[205.0, 110.0], [202.0, 185.0]]])


@dataclass(frozen=True)
class Picture:
    """A grey scene: textured ground, a shaft of one length from the hands, what lies in front."""

    length: float = 0.45
    level: int = 175
    blur_deg: float = 0.0
    net: bool = False
    post_deg: float | None = None

    def frame(self, deg: float | None, seed: int = 0) -> np.ndarray:
        """One frame with the shaft at ``deg`` (atan2, y down); None leaves it out."""
        noise = np.random.default_rng(7)
        scene: Floats = np.asarray(
            110.0 + cv2.GaussianBlur(noise.normal(0, 25, (400, 400)), (0, 0), 3), float
        )
        if self.post_deg is not None:
            scene = _line(scene, self.post_deg, 0.5, 190.0)
        if deg is not None:
            turns = np.linspace(-self.blur_deg / 2, self.blur_deg / 2, 91 if self.blur_deg else 1)
            scene = np.asarray(
                np.mean([_line(scene, deg + d, self.length, float(self.level)) for d in turns], axis=0), float
            )
        if self.net:
            for k in range(0, 400, 16):
                cv2.line(scene, (k, 0), (k, 399), 150.0, 1, cv2.LINE_AA)
                cv2.line(scene, (0, k), (399, k), 150.0, 1, cv2.LINE_AA)
        grain = np.random.default_rng(seed).normal(0, 2, scene.shape)
        return np.clip(scene + grain, 0, 255).astype(np.uint8)


def _line(scene: Floats, deg: float, length: float, level: float) -> Floats:
    out = scene.copy()
    u = np.array([np.cos(np.radians(deg)), np.sin(np.radians(deg))])
    ends = [HANDS[0] + u * r * STATURE for r in (0.02, length)]
    a, b = (tuple(int(round(v * 16)) for v in end) for end in ends)
    cv2.line(out, a, b, level, 2, cv2.LINE_AA, 4)
    return out


def sweep(picture: Picture, degs: list[float]) -> list[ShaftEvidence]:
    """Evidence of a shaft that goes through these directions, one a frame."""
    frames = [picture.frame(d, k) for k, d in enumerate(degs)]
    still = background([replace(picture, length=0.0).frame(None, 99)])
    out = []
    for k, now in enumerate(frames):
        before, after = frames[max(0, k - 1)], frames[min(len(frames) - 1, k + 1)]
        out.append(shaft_evidence(now, before, after, still, HANDS, LIMBS, STATURE))
    return out
