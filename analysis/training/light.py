"""Sun, sky and ground colours of a scene; linear colours, about 1 = white paper in the sun."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.training.rotations import cross, unit
from analysis.types import Floats

Colour = tuple[float, float, float]
OUTDOORS, CLOUDY, INDOORS = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Light:
    """What the shaders need to light a picture.

    ``sun`` direction to the sun; colours of sun, sky, bounce from the ground and the two ends of the sky;
    ``softness`` of shadows; ``backdrop`` one of OUTDOORS, CLOUDY, INDOORS; grass and mat colours; centre of
    the mat; ``opaque`` false leaves the scene out (for a picture behind the golfer).
    """

    sun: Colour
    sun_colour: Colour
    sky: Colour
    bounce: Colour
    sky_top: Colour
    sky_horizon: Colour
    softness: float
    backdrop: int = OUTDOORS
    grass_dark: Colour = (0.040, 0.075, 0.022)
    grass_light: Colour = (0.115, 0.155, 0.050)
    mat_dark: Colour = (0.025, 0.085, 0.045)
    mat_light: Colour = (0.05, 0.145, 0.075)
    mat_centre: tuple[float, float] = (0.0, -0.45)
    stripe: Colour = (1.0, 1.0, 1.0)
    seed: float = 0.0
    opaque: bool = True

    def sun_matrix(self) -> Floats:
        """World to the sun's clip space (4, 4), an orthographic box of 4.8 m around the golfer."""
        toward = unit(np.array(self.sun))
        right = unit(cross(np.array([0.0, 0, 1]), toward))
        matrix = np.eye(4)
        matrix[:3, :3] = np.stack([right, cross(toward, right), toward])
        matrix[:3, 3] = -matrix[:3, :3] @ np.array([0.0, -0.2, 0.8])
        return np.asarray(np.diag([1 / 2.4, 1 / 2.4, -1 / 6.0, 1]) @ matrix)


LIGHTS: Mapping[str, Light] = {
    "range_sun": Light(
        (-0.45, -0.55, 0.75),
        (2.3, 2.15, 1.9),
        (0.50, 0.60, 0.78),
        (0.20, 0.24, 0.14),
        (0.22, 0.42, 0.80),
        (0.70, 0.80, 0.92),
        0.0012,
    ),
    "overcast": Light(
        (0.25, -0.35, 0.90),
        (0.75, 0.75, 0.76),
        (0.95, 0.98, 1.02),
        (0.30, 0.32, 0.26),
        (0.72, 0.75, 0.80),
        (0.86, 0.87, 0.88),
        0.012,
        CLOUDY,
    ),
    "bay": Light(
        (0.35, -0.60, 0.72),
        (1.1, 1.03, 0.92),
        (0.34, 0.34, 0.36),
        (0.16, 0.16, 0.16),
        (0.1, 0.1, 0.1),
        (0.1, 0.1, 0.1),
        0.007,
        INDOORS,
    ),
    "low_sun": Light(
        (0.80, 0.30, 0.42),
        (2.5, 2.0, 1.4),
        (0.48, 0.52, 0.64),
        (0.20, 0.20, 0.12),
        (0.30, 0.45, 0.75),
        (0.88, 0.78, 0.62),
        0.0015,
    ),
}
