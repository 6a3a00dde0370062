"""The three rendered clubs: lengths, planes and where the face meets the ball."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ClubShape:
    """One club.

    ``length`` of the shaft line butt to head (m); changes of the swing plane, the arm plane and the hands at
    address against the iron (degrees); ``stance`` factor; heights of tee and sole, the face in front of the
    shaft's end and the toe's offset (m); shaft lean at impact (degrees). Plausible round numbers for
    rendering, no measured set.
    """

    name: str
    length: float
    plane_change: float
    arm_plane_change: float
    hands_change: float
    stance: float
    tee: float
    sole: float
    face: float
    toe: float
    lean: float

    @property
    def teed(self) -> bool:
        """Whether the ball lies on a tee."""
        return self.tee > 0


CLUBS: Mapping[str, ClubShape] = {
    "iron7": ClubShape("iron7", 0.94, 0.0, 0.0, 0.0, 1.0, 0.0, 0.020, 0.028, 0.030, 7.0),
    "hybrid": ClubShape("hybrid", 1.02, -6.5, -4.0, -3.0, 1.06, 0.0, 0.022, 0.034, 0.034, 4.5),
    "driver": ClubShape("driver", 1.14, -11.5, -8.0, -7.0, 1.16, 0.040, 0.040, 0.045, 0.042, -1.5),
}
