"""Pure geometry of the rendered swings against OpenCV and SciPy."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from analysis.training.camera import Camera
from analysis.training.least_squares import bounded_least_squares
from analysis.training.limbs import Limb, bend
from analysis.training.meshes import box, loop_subdivision, sphere, tube
from analysis.training.rotations import about_axis, between, rotation_vector, twist_about
from analysis.training.tracks import gaussian, monotone_cubic


@pytest.mark.unit
@pytest.mark.parametrize("view", ["face_on", "dtl"])
def test_projection_agrees_with_opencv(view: str) -> None:
    camera = Camera(view, 720, 1280, 3.1, 1.2, 58.0, 7.0, 0.8, 3, roll_deg=1.5)
    points = np.random.default_rng(0).uniform([-1, -1, 0], [1, 1, 2], (40, 3))
    matrix, _ = camera.world_to_camera(0.7)
    # OpenCV's camera looks along +z with y down: turned by half a turn about x.
    flip = np.diag([1.0, -1.0, -1.0])
    focal = 1280 / 2 / np.tan(np.radians(58.0) / 2)
    inner = np.array([[focal, 0, 360], [0, focal, 640], [0, 0, 1]])
    turn, _ = cv2.Rodrigues(flip @ matrix[:3, :3])
    wanted, _ = cv2.projectPoints(points, turn, flip @ matrix[:3, 3], inner, None)
    assert np.allclose(camera.project(0.7, points)[:, :2], wanted[:, 0], atol=1e-6)


@pytest.mark.unit
def test_rotations_agree_with_scipy() -> None:
    draw = np.random.default_rng(1)
    axis = draw.normal(size=3)
    axis /= np.linalg.norm(axis)
    turn = about_axis(axis, 1.1)
    assert np.allclose(turn, Rotation.from_rotvec(1.1 * axis).as_matrix())
    assert np.allclose(rotation_vector(turn), 1.1 * axis)
    assert np.allclose(between(np.eye(3), turn, 0.3), about_axis(axis, 0.33))
    assert twist_about(about_axis(axis, -0.8), axis) == pytest.approx(-0.8)
    across = np.cross(axis, [1.0, 0, 0])
    assert twist_about(about_axis(across, 0.9), axis) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.unit
def test_tracks_agree_with_scipy() -> None:
    t = np.array([0.0, 0.4, 0.5, 0.9, 1.4])
    v = np.array([0.0, 0.0, 3.0, 2.0, 2.5])
    at = np.linspace(0, 1.4, 101)
    assert np.allclose(monotone_cubic(t, v, at), PchipInterpolator(t, v)(at))
    assert np.allclose(monotone_cubic(t[:2], v[1:3], at[:20]), PchipInterpolator(t[:2], v[1:3])(at[:20]))
    noisy = np.random.default_rng(2).normal(size=300)
    assert np.allclose(gaussian(noisy, 14), gaussian_filter1d(noisy, 14, mode="nearest"))
    with pytest.raises(ValueError, match="strictly rising"):
        monotone_cubic(t[::-1], v, at)


@pytest.mark.unit
def test_least_squares_agrees_with_scipy() -> None:
    def misfit(x: np.ndarray) -> np.ndarray:
        return np.array([10 * (x[1] - x[0] ** 2), 1 - x[0], 0.1 * x[1]])

    ones = np.ones(2)
    found = bounded_least_squares(misfit, np.array([-0.5, 1.0]), 1e-4 * ones, -2 * ones, 2 * ones, ones, 400)
    wanted = least_squares(misfit, [-0.5, 1.0], bounds=(-2, 2)).x
    assert np.allclose(found, wanted, atol=0.03)


@pytest.mark.unit
def test_a_bent_limb_keeps_its_lengths_and_reaches() -> None:
    limb = Limb(0.3, 0.25, np.array([0, 0, -1.0]), np.array([0, 0, -1.0]), np.array([1.0, 0, 0]))
    wanted = np.array([0.1, -0.3, -0.2])
    found = bend(limb, np.zeros(3), wanted, np.array([0, 0, -1.0]))
    assert np.allclose(found.end, wanted)
    assert found.gap == pytest.approx(0)
    assert np.linalg.norm(found.middle) == pytest.approx(0.3)
    assert np.linalg.norm(found.end - found.middle) == pytest.approx(0.25)
    assert np.allclose(found.upper @ limb.upper_direction * 0.3, found.middle)
    far = bend(limb, np.zeros(3), np.array([0, 0, -0.8]), np.array([0, -1.0, 0]))
    assert far.gap == pytest.approx(0.8 - 0.9985 * 0.55)


@pytest.mark.unit
def test_meshes_are_closed_and_face_outward() -> None:
    centre = np.array([0.3, -0.2, 1.0])
    half = np.array([0.0, 0.0, 0.2])
    for mesh in (
        tube(centre - half, centre + half, 0.1, 0.05),
        box(centre, np.eye(3), np.array([0.2, 0.3, 0.4])),
    ):
        a, b, c = (mesh.vertices[mesh.faces[:, k]] - centre for k in range(3))
        volume = np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6
        assert volume > 0.004  # divergence theorem: inward faces would make it negative
    assert np.allclose(np.linalg.norm(sphere(centre, 0.5).vertices - centre, axis=1), 0.5)


@pytest.mark.unit
def test_loop_subdivision_of_a_regular_grid_keeps_a_plane_and_quadruples() -> None:
    n = 5
    x, y = np.meshgrid(np.arange(n), np.arange(n))
    points = np.stack([x.ravel(), y.ravel(), 2.0 * x.ravel() + 3.0 * y.ravel()], 1).astype(float)
    a = (np.arange(n - 1)[:, None] * n + np.arange(n - 1)).ravel()
    faces = np.concatenate([np.stack([a, a + 1, a + n + 1], 1), np.stack([a, a + n + 1, a + n], 1)])
    finer = loop_subdivision(faces, len(points))
    new = finer.apply(points)
    assert len(finer.faces) == 4 * len(faces)
    assert np.allclose(finer.apply(np.ones(len(points))), 1)
    assert np.allclose(new[:, 2], 2 * new[:, 0] + 3 * new[:, 1])
    # Loop 1987: an inner vertex of valence six keeps 5/8 of itself, its neighbours give 1/16 each.
    ones = np.zeros(len(points))
    ones[12] = 1
    assert finer.apply(ones)[12] == pytest.approx(5 / 8)
