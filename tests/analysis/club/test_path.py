"""The path search on made-up scores; an exhaustive search is the reference on a small case."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest

from analysis.club.path import CHANGE_SIGHT, DEG_STEPS, PER_DEG, best_path


def bump(deg: float, height: float = 1.0) -> np.ndarray:
    away = (np.arange(360) - deg + 180) % 360 - 180
    return height * np.exp(-0.5 * (away / 3) ** 2)


@pytest.mark.unit
def test_follows_a_turning_line_through_north() -> None:
    degs = np.arange(300, 420, 15.0)
    found, seen = best_path(np.array([bump(d % 360) for d in degs]))
    assert seen.all()
    assert np.allclose((found - degs + 180) % 360 - 180, 0, atol=0.6)


@pytest.mark.unit
def test_one_stray_bright_direction_does_not_pull_the_path() -> None:
    scores = np.array([bump(90 + 3 * k) for k in range(9)])
    scores[4] = bump(102, 0.6) + bump(280, 0.9)
    found, seen = best_path(scores)
    assert seen.all()
    assert abs(found[4] - 102) < 1


@pytest.mark.unit
def test_starts_anew_behind_a_gap_at_any_direction() -> None:
    scores = np.array([bump(60)] * 4 + [np.zeros(360)] * 4 + [bump(230)] * 4)
    found, seen = best_path(scores)
    assert seen.tolist() == [True] * 4 + [False] * 4 + [True] * 4
    assert np.allclose(found[:4], 60, atol=0.6)
    assert np.allclose(found[8:], 230, atol=0.6)
    assert np.isnan(found[4:8]).all()


@pytest.mark.unit
def test_agrees_with_trying_every_path() -> None:
    draw = np.random.default_rng(3)
    options = [0, 20, 45, 120, 180, 300]
    scores = np.full((5, 360), -5.0)
    scores[:, options] = draw.random((5, len(options)))
    unseen = 0.2

    def worth(path: tuple[int | None, ...]) -> float:
        total = sum(unseen if d is None else scores[k, d] for k, d in enumerate(path))
        for a, b in pairwise(path):
            if (a is None) != (b is None):
                total -= CHANGE_SIGHT
            elif a is not None and b is not None:
                turn = abs((b - a + 180) % 360 - 180)
                total -= PER_DEG * turn if turn <= DEG_STEPS else np.inf
        return float(total)

    best = max(product([*options, None], repeat=5), key=worth)
    found, seen = best_path(scores, unseen)
    assert seen.tolist() == [d is not None for d in best]
    assert [round(float(f)) for f, s in zip(found, seen, strict=True) if s] == [
        d for d in best if d is not None
    ]


@pytest.mark.unit
def test_wrong_shapes_and_nothing_at_all() -> None:
    with pytest.raises(ValueError, match=r"scores must have shape"):
        best_path(np.zeros((3, 180)))
    assert best_path(np.zeros((0, 360)))[0].size == 0
