"""Where the phone stands for a training sample, and the square crop it is shown in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.training.camera import Camera, to_pixels
from analysis.training.labels import RENDER_SIDE
from analysis.types import DOWN_THE_LINE, FACE_ON, Floats

CROP_HEIGHTS = 1.9
# The shaft is harder to see down-the-line.
DOWN_THE_LINE_SHARE = 0.6


@dataclass(frozen=True, slots=True)
class CroppedView:
    """A camera and the square of its picture that is shown: centre and side in the picture's pixels."""

    camera: Camera
    centre: tuple[float, float]
    side: float
    stature: float

    def matrix(self, t_s: float) -> tuple[Floats, Floats]:
        """World to the crop's clip space (4, 4), and the eye (3,)."""
        to_camera, eye = self.camera.world_to_camera(t_s)
        cam, (x, y) = self.camera, self.centre
        zoom = np.eye(4)
        zoom[0, 0], zoom[1, 1] = cam.width / self.side, cam.height / self.side
        zoom[0, 3] = (cam.width / 2 - x) * 2 / self.side
        zoom[1, 3] = -(cam.height / 2 - y) * 2 / self.side
        return np.asarray(zoom @ cam.projection() @ to_camera), eye

    def project(self, t_s: float, points: Floats) -> Floats:
        """World points to render pixels of the crop, with depth (N, 3)."""
        return to_pixels(self.matrix(t_s)[0], points, RENDER_SIDE, RENDER_SIDE)

    @property
    def inside(self) -> tuple[float, float, float, float]:
        """The camera's picture in the crop: left, top, right, bottom in render pixels."""
        scale = RENDER_SIDE / self.side
        left, top = (RENDER_SIDE / 2 - c * scale for c in self.centre)
        return left, top, left + self.camera.width * scale, top + self.camera.height * scale


def random_view(height_m: float, t_s: float, draw: np.random.Generator) -> CroppedView:
    """Both views with yaw errors, portrait and landscape phones, near and far, crops off by some percent."""
    kind = draw.random()
    width, height = (720, 1280) if kind < 0.6 else (1280, 720) if kind < 0.75 else (960, 1280)
    for _ in range(30):
        fov = draw.uniform(42, 76) if height > width else draw.uniform(28, 50)
        distance = draw.uniform(2.5, 6)
        filled = height_m / (2 * distance * np.tan(np.radians(fov) / 2))
        if 0.30 < filled < 0.97:
            break
    usual = draw.random() < 0.88
    yaw = float(np.clip(draw.normal() * 10, -30, 30)) if usual else draw.uniform(-55, 55)
    target = (
        draw.normal() * 0.12,
        -0.25 + draw.normal() * 0.08,
        0.62 * height_m + draw.normal() * 0.1,
    )
    camera = Camera(
        DOWN_THE_LINE if draw.random() < DOWN_THE_LINE_SHARE else FACE_ON,
        width,
        height,
        distance,
        draw.uniform(0.7, 1.7),
        fov,
        yaw,
        draw.uniform(0, 1.5),
        int(draw.integers(1 << 20)),
        target,
        draw.normal() * 1.6,
    )
    body = camera.project(
        t_s, np.array([[0.02, 0.02, 0.62 * height_m], [0.02, 0.02, 0], [0.02, 0.02, height_m]])
    )
    stature = abs(float(body[1, 1] - body[2, 1]))
    centre = (body[0, 0] + draw.normal() * 0.09 * stature, body[0, 1] + draw.normal() * 0.08 * stature)
    return CroppedView(camera, centre, CROP_HEIGHTS * stature * float(np.exp(draw.normal() * 0.09)), stature)
