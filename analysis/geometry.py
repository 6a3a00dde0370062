"""Angles of lines and joints in the picture, for any stack of points."""

from __future__ import annotations

import numpy as np

from analysis.types import Floats


def wrap_deg(deg: Floats) -> Floats:
    """Degrees brought to [-180, 180)."""
    return np.asarray((deg + 180) % 360 - 180)


def direction_deg(from_xy: Floats, to_xy: Floats) -> Floats:
    """Direction (S,) of a line by atan2 in image axes (x right, y down), degrees."""
    d = to_xy - from_xy
    return np.asarray(np.degrees(np.arctan2(d[..., 1], d[..., 0])))


def joint_angle_deg(a_xy: Floats, b_xy: Floats, c_xy: Floats) -> Floats:
    """Angle (S,) at ``b`` between the lines to ``a`` and ``c``, 0..180 degrees, 180 = straight."""
    return np.abs(wrap_deg(direction_deg(b_xy, a_xy) - direction_deg(b_xy, c_xy)))


def lean_deg(low_xy: Floats, high_xy: Floats, plus_x: float) -> Floats:
    """Angle (S,) of the line low to high from the vertical, + = the upper end on the positive side.

    Parameters
    ----------
    low_xy, high_xy : ndarray of shape (S, 2)
        Pixels, x right, y down.
    plus_x : float
        +1 or -1: which picture direction counts as positive.
    """
    d = high_xy - low_xy
    return np.asarray(np.degrees(np.arctan2(plus_x * d[..., 0], -d[..., 1])))
