"""A golfer whose head or feet are outside the picture, from tracks moved up and down in it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.body import torso_px
from analysis.quality import CUT_SHARE, cut_off_share
from analysis.types import JOINT_INDEX, PoseTrack
from tests.analysis.changes import stored_swing

HEAD = [JOINT_INDEX[name] for name in ("nose", "left_ear", "right_ear")]


def moved(pose: PoseTrack, dy: float) -> PoseTrack:
    return replace(pose, xy=pose.xy + np.array([0.0, dy]))


def face_y(pose: PoseTrack) -> float:
    return float(np.nanmedian(pose.xy[:, HEAD, 1].min(1)))


@pytest.mark.unit
@pytest.mark.parametrize("name", ["fo_none", "dtl_none"])
def test_a_face_close_under_the_edge_has_its_crown_cut_off(name: str) -> None:
    pose = stored_swing(name).pose
    trunk = torso_px(pose)
    assert cut_off_share(pose) == 0.0
    shares = {room: cut_off_share(moved(pose, room * trunk - face_y(pose))) for room in (0.6, 0.1, 0.0, -0.3)}
    print(f"\n{name}: cut off with the face so many trunks under the edge: {shares}")
    assert shares[0.6] < 0.1
    assert min(shares[0.1], shares[0.0], shares[-0.3]) > 2 * CUT_SHARE


@pytest.mark.unit
def test_feet_outside_count_and_frames_without_anybody_do_not() -> None:
    pose = stored_swing("fo_none").pose
    low = moved(pose, pose.height - float(np.nanmedian(pose.joint("left_ankle")[:, 1])))
    assert cut_off_share(low) == 1.0
    gone = low.xy.copy()
    gone[::2] = np.nan
    assert cut_off_share(replace(low, xy=gone)) == 1.0
    assert cut_off_share(replace(low, xy=np.full_like(low.xy, np.nan))) == 0.0
