"""Labels, targets and losses in plain numpy, against SciPy and hand-made cases."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import expit, i0

from analysis.training.exposure import Shutter
from analysis.training.fit_confidence import reliability
from analysis.training.labels import FIRST_VISIBLE, INDEX, SHAFT_SHARES, label_row
from analysis.training.losses import cross_entropy, log_i0, losses_of, point_entropy, von_mises
from analysis.training.targets import cell_centres, point_map, targets_of
from analysis.training.truth import in_sight, rolled

CENTRES = cell_centres(np)


def sample(hidden: slice | None = None) -> tuple[np.ndarray, np.ndarray]:
    """A shaft from (60, 60) straight down to (60, 160), grip 10 pixels along it."""
    points = np.array([[[60.0, 70.0], [60.0, 160.0], [60.0, 60.0]]])
    along = points[0, 2] + (points[0, 1] - points[0, 2]) * SHAFT_SHARES[:, None]
    seen = np.ones(27, bool)
    if hidden is not None:
        seen[3:][hidden] = False
    row = label_row(np.concatenate([points[0], along]), seen, {"has_club": 1.0})
    return points, row[None]


@pytest.mark.unit
def test_a_label_row_says_what_is_seen() -> None:
    _, labels = sample(slice(0, 12))
    assert labels[0, INDEX["shaft_visible"]] == pytest.approx(0.5)
    assert labels[0, FIRST_VISIBLE:].tolist() == [0.0] * 12 + [1.0] * 12
    assert labels[0, :6].tolist() == [60, 70, 60, 160, 60, 60]
    with pytest.raises(ValueError, match="facts must be named"):
        label_row(np.zeros((27, 2)), np.ones(27, bool), {"colour": 1.0})
    with pytest.raises(ValueError, match="points must be"):
        label_row(np.zeros((3, 2)), np.ones(27, bool), {})


@pytest.mark.unit
def test_the_shaft_map_lies_on_the_visible_shaft_only() -> None:
    points, labels = sample(slice(12, 24))
    t = targets_of(np, points, labels, CENTRES)
    column = int(np.argmin(np.abs(CENTRES - 60)))
    lit = CENTRES[t.shaft[0][:, column] > 0.5]
    assert lit.min() == pytest.approx(60 + 24, abs=5)
    assert lit.max() == pytest.approx(60 + 63, abs=5)  # half of the way from 30 to 97 percent
    assert np.allclose(t.direction, [[0.0, 1.0]])
    assert t.length[0] == pytest.approx(100)
    assert t.visible[0] == pytest.approx(0.5)
    away = np.abs(CENTRES[None] - 60) > 12
    assert t.shaft[0][:, away[0]].max() < 0.01


@pytest.mark.unit
def test_a_point_map_is_a_share_around_its_point() -> None:
    hill = point_map(np, np.array([[100.0, 40.0]]), CENTRES).reshape(64, 64)
    assert hill.sum() == pytest.approx(1)
    assert (hill * CENTRES[None]).sum() == pytest.approx(100, abs=0.1)
    assert (hill * CENTRES[:, None]).sum() == pytest.approx(40, abs=0.1)


@pytest.mark.unit
def test_losses_have_the_values_of_their_formulas() -> None:
    kappa = np.array([0.0, 0.5, 3.0, 3.75, 10.0, 80.0])
    assert np.allclose(log_i0(np, kappa), np.log(i0(kappa)), atol=2e-6)
    v = np.array([[3.0, 4.0]])
    assert von_mises(np, v, np.array([[0.6, 0.8]]))[0] == pytest.approx(np.log(i0(5.0)) - 5.0, abs=1e-5)
    z, p = np.array([-30.0, -1.0, 0.0, 2.0]), np.array([0.0, 0.3, 0.5, 1.0])
    by_hand = -(p * np.log(expit(z)) + (1 - p) * np.log1p(-expit(z)))
    assert np.allclose(cross_entropy(np, z, p), by_hand)
    flat = np.full((1, 64 * 64), 1 / 4096)
    assert point_entropy(np, np.zeros((1, 64, 64)), flat)[0] == pytest.approx(np.log(4096))


@pytest.mark.unit
def test_the_right_answer_costs_less_than_a_turned_one() -> None:
    points, labels = sample()
    t = targets_of(np, points, labels, CENTRES)

    def cost(deg: float) -> float:
        dense = np.zeros((1, 5, 64, 64))
        dense[:, 0] = 16 * t.shaft - 8
        angle = np.radians(deg)
        dense[:, 1], dense[:, 2] = 20 * np.cos(angle), 20 * np.sin(angle)
        clip = np.array([[4.0, 4.0, 20 * np.cos(angle), 20 * np.sin(angle)]])
        return float(losses_of(np, dense, clip, points, labels, t, CENTRES).total)

    assert cost(90) < cost(100) < cost(140)


@pytest.mark.unit
def test_rows_of_a_rolling_shutter() -> None:
    # A point that moves down by 8 pixels while a picture of 100 rows is read out, seen in row 52: 4.16 below.
    rows = np.array([[[10.0, 48.0]], [[10.0, 52.0]], [[10.0, 56.0]]])
    y = rolled(rows, 100)[0, 1]
    assert y == pytest.approx(48 / (1 - 0.08))
    still = Shutter(0.004)
    assert still.row_weights(10, 6).tolist() == [6.0] * 10
    rolling = Shutter(0.004, 0.010)
    # Each row is open for the same time, wherever it lies.
    assert np.allclose(rolling.row_weights(50, 30), rolling.row_weights(50, 30)[25], rtol=0.02)
    with pytest.raises(ValueError, match="open_s must be positive"):
        Shutter(0.0)


@pytest.mark.unit
def test_what_lies_behind_something_is_out_of_sight() -> None:
    depth = np.full((10, 10), 3.0)
    points = np.array([[2.0, 2.0, 2.9], [2.0, 2.0, 3.2], [12.0, 2.0, 1.0], [3.0, 3.0, 3.05]])
    assert in_sight(points, depth, 0.1).tolist() == [True, False, False, True]


@pytest.mark.unit
def test_the_reliability_table_counts() -> None:
    lines = reliability(np.array([0.96, 0.97, 0.99, 0.1]), np.array([1.0, 7.0, 0.5, 90.0]))
    assert len(lines) == 4
    assert lines[2].split()[:5] == ["0.95-0.98", "2", "0.965", "0.500", "1.000"]
