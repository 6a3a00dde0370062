"""Rotations and frames in space: right-handed, column vectors, radians."""

from __future__ import annotations

import math

import numpy as np

from analysis.types import Floats

_TINY = 1e-9


def about_x(angle: float) -> Floats:
    """Rotation (3, 3) about +x."""
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])


def about_y(angle: float) -> Floats:
    """Rotation (3, 3) about +y."""
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def about_z(angle: float) -> Floats:
    """Rotation (3, 3) about +z."""
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def unit(v: Floats) -> Floats:
    """The vector at length one; a zero vector stays (nearly) zero."""
    return np.asarray(v / (math.sqrt(float(v @ v)) + 1e-12))


def cross(a: Floats, b: Floats) -> Floats:
    """Cross product of two vectors (numpy's own is several times slower on single ones)."""
    return np.array([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])


def about_axis(axis: Floats, angle: float) -> Floats:
    """Rotation (3, 3) about any axis (Rodrigues)."""
    x, y, z = unit(axis)
    k = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.asarray(np.eye(3) + math.sin(angle) * k + (1 - math.cos(angle)) * k @ k)


def rotation_vector(rotation: Floats) -> Floats:
    """Axis times angle (3,), radians, of a rotation that is less than half a turn."""
    angle = math.acos(min(1.0, max(-1.0, (float(np.trace(rotation)) - 1) / 2)))
    v = np.array(
        [
            rotation[2, 1] - rotation[1, 2],
            rotation[0, 2] - rotation[2, 0],
            rotation[1, 0] - rotation[0, 1],
        ]
    )
    length = float(np.linalg.norm(v))
    return np.zeros(3) if length < _TINY else v / length * angle


def between(a: Floats, b: Floats, share: float) -> Floats:
    """The rotation ``share`` of the way from ``a`` to ``b`` (spherical interpolation)."""
    v = rotation_vector(a.T @ b)
    angle = float(np.linalg.norm(v))
    return a if angle < _TINY else np.asarray(a @ about_axis(v, angle * share))


def frame(first: Floats, third: Floats) -> Floats:
    """Orthonormal frame (3, 3): first column along ``first``, third as near to ``third`` as can be."""
    u = unit(first)
    w = unit(third - u * (third @ u))
    return np.array([u, cross(w, u), w]).T


def turning(a: Floats, b: Floats) -> Floats:
    """The smallest rotation that takes direction ``a`` to direction ``b``."""
    v = cross(a, b)
    s = math.sqrt(float(v @ v))
    return np.eye(3) if s < _TINY else about_axis(v, math.atan2(s, float(a @ b)))


def twist_about(rotation: Floats, axis: Floats) -> float:
    """Signed part of a rotation that turns about ``axis``, radians in [-pi, pi)."""
    # The quaternion's vector part is along the rotation vector: sin(half) * axis.
    v = rotation_vector(rotation)
    angle = float(np.linalg.norm(v))
    if angle < _TINY:
        return 0.0
    along = float(v @ axis) / angle * math.sin(angle / 2)
    twist = 2 * math.atan2(along, math.cos(angle / 2))
    return (twist + math.pi) % (2 * math.pi) - math.pi


def angle_deg(a: Floats, b: Floats) -> float:
    """Angle between two directions, 0..180 degrees."""
    return math.degrees(math.acos(min(1.0, max(-1.0, float(unit(a) @ unit(b))))))
