"""One instant of a swing in space."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.types import Floats


@dataclass(frozen=True, slots=True)
class Pose:
    """One instant in the world: z up, +x toward the target, the golfer faces -y; metres.

    ``rotations`` (B, 3, 3) and ``places`` (B, 3) of the bones; club ``butt``, ``head`` and unit ``shaft``
    butt to head; grip points of both hands; lead palm normal; lead forearm direction; what was not reached.
    """

    rotations: Floats
    places: Floats
    butt: Floats
    head: Floats
    shaft: Floats
    lead_grip: Floats
    trail_grip: Floats
    lead_palm: Floats
    lead_forearm: Floats
    pelvis: Floats
    thorax: Floats
    reach_gap: float
    feet_gap: float

    @property
    def grip(self) -> Floats:
        """The point between the hands on the shaft."""
        return np.asarray((self.lead_grip + self.trail_grip) / 2)
