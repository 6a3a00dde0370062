"""The drawn club: grip, shaft, band, hosel and head, with colours and materials of its own."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.training.meshes import Mesh, box, sphere, tube
from analysis.training.rotations import cross, unit
from analysis.types import Floats

SMOOTH, METAL, RUBBER = 4.0, 6.0, 7.0


@dataclass(frozen=True, slots=True)
class DrawnClub:
    """Sizes in m and linear colours; ``band`` None is a plain shaft. ``lie_deg`` of an iron's head."""

    length: float
    wood: bool = False
    grip_length: float = 0.27
    grip_radius: float = 0.0135
    butt_radius: float = 0.0072
    tip_radius: float = 0.0048
    shaft_colour: tuple[float, float, float] = (0.42, 0.43, 0.45)
    shaft_material: float = METAL
    grip_colour: tuple[float, float, float] = (0.03, 0.03, 0.03)
    head_colour: tuple[float, float, float] = (0.38, 0.38, 0.40)
    head_material: float = METAL
    head_scale: float = 1.0
    lie_deg: float = 62.0
    band: tuple[float, float, float] | None = None

    def parts(self, butt: Floats, shaft: Floats, lead_palm: Floats) -> list[tuple[str, Mesh, Floats, float]]:
        """Name, mesh, colour and material of every part, for a club lying from ``butt`` along ``shaft``."""
        head, grip_end = butt + shaft * self.length, butt + shaft * self.grip_length
        tip = head - shaft * 0.045
        small = self.grip_radius * 0.78
        out = [
            ("grip", tube(butt, grip_end, self.grip_radius, small, 8), np.array(self.grip_colour), RUBBER),
            (
                "shaft",
                tube(grip_end, tip, self.butt_radius, self.tip_radius, 8),
                np.array(self.shaft_colour),
                self.shaft_material,
            ),
        ]
        if self.band is not None:
            start = butt + shaft * self.length * 0.36
            wide = self.butt_radius * 1.08
            out.append(
                ("band", tube(start, start + shaft * 0.12, wide, wide, 6), np.array(self.band), SMOOTH)
            )
        colour = np.array(self.head_colour)
        hosel = tube(tip - shaft * 0.01, tip + shaft * 0.035, 0.0066, 0.0070, 6)
        out.append(("hosel", hosel, colour, self.head_material))
        out.append(("head", self._head(head, shaft, lead_palm), colour, self.head_material))
        return out

    def _head(self, head: Floats, shaft: Floats, lead_palm: Floats) -> Mesh:
        up = -shaft
        face = unit(-lead_palm - up * (-lead_palm @ up))
        across = cross(face, up)
        if self.wood:
            ball = sphere(np.zeros(3), 1.0, 9)
            axes = np.stack([across, face, up], 1)
            size = np.array([0.058, 0.052, 0.028]) * self.head_scale
            normals = ball.normals / size
            normals /= np.linalg.norm(normals, axis=1, keepdims=True)
            centre = head - shaft * 0.01 + across * 0.035 * self.head_scale - face * 0.03 * self.head_scale
            return Mesh(centre + (ball.vertices * size) @ axes.T, normals @ axes.T, ball.faces)
        lie = math.radians(self.lie_deg)
        toe = unit(across * math.sin(lie) - up * math.cos(lie))
        high = unit(cross(face, toe))
        high = high if high @ up > 0 else -high
        loft = unit(face + 0.45 * high)
        centre = head - shaft * 0.018 + toe * 0.034 + high * 0.004
        blade = np.stack([toe, loft, cross(toe, loft)], 1)
        return box(centre, blade, np.array([0.078, 0.014, 0.046]) * self.head_scale)
