"""A hand-held phone's camera: where it stands, how it shakes, what it sees where."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from analysis.training.rotations import about_z, cross, unit
from analysis.types import DOWN_THE_LINE, FACE_ON, VIEWS, Floats

NEAR_M, FAR_M = 0.1, 200.0
_SHAKE_HZ = np.array([0.7, 1.3, 2.1, 0.9, 1.7, 2.9])


@dataclass(frozen=True, slots=True)
class Camera:
    """A pinhole camera.

    ``view``; picture ``width`` and ``height`` in pixels; ``distance`` and ``stand_height`` in m; vertical
    field of view and yaw off the ideal line in degrees; ``shake`` (0 none, 1 a steady hand); ``target`` (3,)
    the point it looks at.
    """

    view: str
    width: int
    height: int
    distance: float = 2.85
    stand_height: float = 1.05
    fov_deg: float = 62.0
    yaw_deg: float = 0.0
    shake: float = 0.0
    seed: int = 0
    target: tuple[float, float, float] = (0.0, -0.25, 1.03)
    roll_deg: float = 0.0
    _phase: Any = field(init=False, repr=False, compare=False, default=None)

    def __post_init__(self) -> None:
        if self.view not in VIEWS:
            raise ValueError(f"view must be one of {VIEWS}, got {self.view!r}")
        if not 0 < self.fov_deg < 170 or self.distance <= 0:
            raise ValueError("fov_deg must be in 0..170 and distance positive")
        phase = np.random.default_rng(self.seed + 77).random((6, 3)) * 6.28
        object.__setattr__(self, "_phase", phase)

    def stand(self) -> tuple[Floats, Floats]:
        """Place of the still camera and the point it looks at, both (3,)."""
        looks = np.array(self.target)
        away = np.array([0.0, -1.0, 0.0] if self.view == FACE_ON else [-1.0, 0.0, 0.0])
        if self.view == DOWN_THE_LINE:
            looks = looks + np.array([0.0, -0.12, 0.0])
        place = looks + about_z(np.radians(self.yaw_deg)) @ away * self.distance
        place[2] = self.stand_height
        return place, looks

    def world_to_camera(self, t_s: float) -> tuple[Floats, Floats]:
        """View matrix (4, 4), camera looking along -z, and the camera's place (3,) at a time."""
        place, looks = self.stand()
        s = np.sin(2 * np.pi * _SHAKE_HZ[:, None] * t_s + self._phase)
        place = place + self.shake * 0.006 * (s[0] + 0.5 * s[1])
        looks = looks + self.shake * 0.010 * (s[3] + 0.5 * s[4] + 0.25 * s[5])
        forward = unit(looks - place)
        right = unit(cross(forward, unit(np.array([0.0, 0, 1]) + self.shake * 0.003 * s[2])))
        matrix = np.eye(4)
        matrix[:3, :3] = about_z(np.radians(self.roll_deg)) @ np.stack(
            [right, cross(right, forward), -forward]
        )
        matrix[:3, 3] = -matrix[:3, :3] @ place
        return matrix, place

    def projection(self) -> Floats:
        """Perspective matrix (4, 4) to clip space."""
        e = 1 / np.tan(np.radians(self.fov_deg) / 2)
        p = np.zeros((4, 4))
        p[0, 0], p[1, 1] = e * self.height / self.width, e
        p[2, 2] = -(FAR_M + NEAR_M) / (FAR_M - NEAR_M)
        p[2, 3] = -2 * FAR_M * NEAR_M / (FAR_M - NEAR_M)
        p[3, 2] = -1
        return p

    def project(self, t_s: float, points: Floats) -> Floats:
        """World points (N, 3) to pixels x right, y down, and depth in m, as (N, 3)."""
        return to_pixels(self.projection() @ self.world_to_camera(t_s)[0], points, self.width, self.height)


def to_pixels(matrix: Floats, points: Floats, width: float, height: float) -> Floats:
    """Points (N, 3) through a world-to-clip matrix: pixels and depth (N, 3)."""
    points = np.atleast_2d(points)
    q = np.concatenate([points, np.ones((len(points), 1))], 1) @ matrix.T
    x = (q[:, 0] / q[:, 3] + 1) / 2 * width
    y = (1 - q[:, 1] / q[:, 3]) / 2 * height
    return np.stack([x, y, q[:, 3]], 1)
