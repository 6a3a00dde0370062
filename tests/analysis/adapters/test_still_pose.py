"""A pose is only kept while nothing around the golfer moves."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from analysis.adapters.motion_map import LONGEST_HOLD_S, Picture, StillPose
from analysis.adapters.pose_rows import PoseRows
from analysis.types import JOINTS, Floats

HEIGHT, WIDTH, SCALE = 192, 108, 4
JOINTS_XY = np.linspace([180.0, 240.0], [260.0, 640.0], len(JOINTS))


def picture(seed: int = 1) -> Picture:
    """A textured background, grey, with the noise of a phone (2 levels)."""
    ground = np.random.default_rng(7).integers(60, 200, (HEIGHT, WIDTH)).astype(float)
    noise = np.random.default_rng(seed).normal(0, 2, (HEIGHT, WIDTH))
    return np.clip(ground + noise, 0, 255).astype(np.uint8)


@pytest.fixture
def still() -> StillPose:
    """A pose found at 1 s."""
    out = StillPose()
    out.found(picture(), 1.0, JOINTS_XY, WIDTH * SCALE, HEIGHT * SCALE)
    return out


def test_noise_alone_moves_nobody(still: StillPose) -> None:
    assert still.stands(picture(2), 1.3)


def test_hands_that_move_by_their_width_are_seen(still: StillPose) -> None:
    """Both on the club are a twentieth of the height wide and twice as long (common practice, no source)."""
    before, after = picture(), picture(2)
    before[100:111, 50:56], after[100:111, 56:62] = 20, 20
    still.found(before, 1.0, JOINTS_XY, WIDTH * SCALE, HEIGHT * SCALE)
    assert not still.stands(after, 1.1)


def test_a_camera_that_moves_by_a_pixel_keeps_nothing(still: StillPose) -> None:
    assert not still.stands(np.roll(picture(2), 1, axis=1), 1.1)


def test_slow_motion_adds_up(still: StillPose) -> None:
    """A shade that comes on by two levels a picture, never enough between two neighbours."""
    shaded = [picture().astype(int) + 2 * step for step in range(1, 12)]
    seen = [
        still.stands(np.clip(rgb, 0, 255).astype(np.uint8), 1.0 + 0.05 * k) for k, rgb in enumerate(shaded)
    ]
    assert seen[0]
    assert not seen[-1]


def test_nothing_is_kept_for_long_nor_where_nobody_was_found(still: StillPose) -> None:
    assert not still.stands(picture(), 1.01 + LONGEST_HOLD_S)
    still.found(picture(), 2.0, np.full_like(JOINTS_XY, np.nan), WIDTH * SCALE, HEIGHT * SCALE)
    assert not still.stands(picture(), 2.1)


def _rows(places: list[Floats | None]) -> PoseRows:
    rows = PoseRows()
    for k, place in enumerate(places):
        if place is None:
            rows.hold(0.1 * k)
        else:
            rows.add(0.1 * k, (place, np.ones(len(JOINTS))))
    return rows


def test_kept_poses_lie_on_the_way_to_the_next_one() -> None:
    xy = _rows([JOINTS_XY, None, None, JOINTS_XY + 3]).track(400, 800).xy
    assert np.allclose(xy - JOINTS_XY, np.arange(4)[:, None, None])


def test_kept_poses_stay_where_nobody_is_found_afterwards() -> None:
    xy = _rows([JOINTS_XY, None, np.full_like(JOINTS_XY, np.nan)]).track(400, 800).xy
    assert np.allclose(xy[1], JOINTS_XY)


def test_finding_poses_loads_no_plotting_library() -> None:
    code = (
        "import sys; from analysis.adapters.pose import PoseFinder\n"
        "with PoseFinder(): print('matplotlib' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False"]
