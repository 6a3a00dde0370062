"""Ball-flight geometry: start direction and spin axis from path and face at impact.

Angles in degrees, + right of the target for path and face, + upward for attack. Metres of curve are not
computed: lift and drag are not known well enough. Start shares: the ball starts nearer the face, 61 to 83 %
of the way from path to face, less for lofted clubs (Wood, Henrikson & Broadie 2018, grade S).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.types import HANDS, Floats

# Trade shares by club (grade S2); the published span is 0.61..0.83.
FACE_SHARE = {"wedge": 0.70, "iron": 0.75, "hybrid": 0.78, "fairway": 0.82, "driver": 0.85}
STRAIGHT_START_DEG, STRAIGHT_CURVE_DEG = 1.0, 0.5
MILD_DEG, MODERATE_DEG = 3.0, 6.0


@dataclass(frozen=True, slots=True)
class Flight:
    """Start direction, spin loft and spin-axis tilt (degrees, + = right), with the shape's words."""

    start_deg: float
    spin_loft_deg: float
    axis_tilt_deg: float
    start: str
    curve: str
    strength: str


def _direction(side_deg: float, up_deg: float) -> Floats:
    side, up = np.radians(side_deg), np.radians(up_deg)
    return np.array([np.cos(up) * np.cos(side), np.cos(up) * np.sin(side), np.sin(up)])


def flight(
    *, path_deg: float, face_deg: float, attack_deg: float, dynamic_loft_deg: float, face_share: float = 0.75
) -> Flight:
    """Start and curve of a centred strike without wind.

    Parameters
    ----------
    path_deg, face_deg : float
        Club path and face against the target line, -45..45, + right.
    attack_deg, dynamic_loft_deg : float
        Attack angle and loft at impact against the horizontal.
    face_share : float
        Share of the way from path to face at which the ball starts, 0..1.

    Returns
    -------
    Flight

    Raises
    ------
    ValueError
        If an angle or the share is out of range.

    References
    ----------
    Jorgensen, The Physics of Golf (1994), the D-plane: the spin axis is along velocity x face normal.
    """
    for name, value in (("path_deg", path_deg), ("face_deg", face_deg)):
        if not -45 <= value <= 45:
            raise ValueError(f"{name} must be in -45..45, got {value}")
    if not 0 <= face_share <= 1:
        raise ValueError(f"face_share must be in 0..1, got {face_share}")
    velocity, normal = _direction(path_deg, attack_deg), _direction(face_deg, dynamic_loft_deg)
    spin_loft = float(np.degrees(np.arccos(np.clip(velocity @ normal, -1, 1))))
    start = path_deg + face_share * (face_deg - path_deg)
    tilt = axis_tilt_deg(velocity, normal)
    gap = face_deg - path_deg
    return Flight(
        start,
        spin_loft,
        tilt,
        _side(start, STRAIGHT_START_DEG),
        _side(gap, STRAIGHT_CURVE_DEG),
        _strength(gap),
    )


def axis_tilt_deg(velocity: Floats, normal: Floats) -> float:
    """Tilt of the spin axis from level, + = the ball curves right.

    Parameters
    ----------
    velocity, normal : ndarray of shape (3,)
        x to the target, y right, z up.
    """
    axis = np.cross(velocity, normal)
    across = float(np.hypot(axis[0], axis[1]))
    if across < 1e-12:
        return 0.0
    return float(np.degrees(np.arctan2(axis[2], across)))


def _side(value: float, straight: float) -> str:
    if abs(value) <= straight:
        return "straight"
    return "right" if value > 0 else "left"


def _strength(gap_deg: float) -> str:
    if abs(gap_deg) <= STRAIGHT_CURVE_DEG:
        return "none"
    if abs(gap_deg) <= MILD_DEG:
        return "mild"
    return "moderate" if abs(gap_deg) <= MODERATE_DEG else "severe"


_SHAPES = {
    ("left", "left"): ("pull hook", "pull draw"),
    ("left", "straight"): ("pull", "pull"),
    ("left", "right"): ("pull slice", "pull fade"),
    ("straight", "left"): ("hook", "draw"),
    ("straight", "straight"): ("straight", "straight"),
    ("straight", "right"): ("slice", "fade"),
    ("right", "left"): ("push hook", "push draw"),
    ("right", "straight"): ("push", "push"),
    ("right", "right"): ("push slice", "push fade"),
}
_MIRROR = {"left": "right", "right": "left", "straight": "straight"}


def shape_name(start: str, curve: str, strength: str, handedness: str) -> str:
    """The trade's word for a flight: mild curves are draw or fade, others hook or slice.

    Parameters
    ----------
    start, curve : {"left", "straight", "right"}
    strength : {"none", "mild", "moderate", "severe"}
    handedness : {"right", "left"}
        Words mirror for a left-hander.
    """
    if handedness not in HANDS:
        raise ValueError(f"handedness must be one of {HANDS}, got {handedness!r}")
    if start not in _MIRROR or curve not in _MIRROR:
        raise ValueError(f"start and curve must be among {sorted(_MIRROR)}, got {start!r} and {curve!r}")
    if handedness == "left":
        start, curve = _MIRROR[start], _MIRROR[curve]
    strong, mild = _SHAPES[start, curve]
    return mild if strength == "mild" else strong
