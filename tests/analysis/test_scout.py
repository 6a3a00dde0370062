"""Swings, view and hand from coarse tracks."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.body import part_of, stature_px
from analysis.scout import address_part, find_swings
from analysis.types import PoseTrack
from analysis.view import find_view
from tests.analysis.conftest import TRUTH_NAMES, truth_tracks


def _coarse(pose: PoseTrack, every: int = 5) -> PoseTrack:
    s = slice(None, None, every)
    return PoseTrack(pose.t_s[s], pose.xy[s], pose.confidence[s], pose.width, pose.height)


def _joined(*poses: PoseTrack, pause_s: float = 0.5) -> PoseTrack:
    times, start = [], 0.0
    for pose in poses:
        times.append(pose.t_s + start)
        start = float(times[-1][-1]) + pause_s
    xy = np.concatenate([p.xy for p in poses])
    return PoseTrack(
        np.concatenate(times),
        xy,
        np.concatenate([p.confidence for p in poses]),
        poses[0].width,
        poses[0].height,
    )


@pytest.mark.parametrize("name", TRUTH_NAMES)
def test_one_swing_with_rough_times(name: str) -> None:
    swing, events = truth_tracks(name)
    (window,) = find_swings(_coarse(swing.pose))
    assert window.stretch == 1.0
    assert abs(window.impact_s - events["impact"].t_s) < 0.12
    assert abs(window.top_s - events["top"].t_s) < 0.25
    assert window.start_s <= events["takeaway"].t_s - 0.1
    assert window.end_s >= min(events["finish"].t_s, swing.pose.t_s[-1])


@pytest.mark.parametrize("name", TRUTH_NAMES)
def test_view_and_hand(name: str) -> None:
    swing, _ = truth_tracks(name)
    pose = _coarse(swing.pose)
    (window,) = find_swings(pose)
    top = part_of(pose, window.top_s - 0.1, window.top_s + 0.1)
    finding = find_view(address_part(pose, window), top)
    assert (finding.view, finding.handedness, finding.from_behind) == (swing.view, swing.handedness, False)
    assert finding.view_p > 0.75


def test_two_swings_are_told_apart() -> None:
    one, _ = truth_tracks("fo_none")
    two, _ = truth_tracks("fo_early")
    windows = find_swings(_coarse(_joined(one.pose, two.pose)))
    assert len(windows) == 2
    assert windows[0].end_s <= windows[1].impact_s
    assert windows[0].finish_s <= windows[1].start_s


def test_standing_still_is_no_swing() -> None:
    swing, _ = truth_tracks("fo_none")
    pose = _coarse(swing.pose)
    still = PoseTrack(pose.t_s, np.repeat(pose.xy[:1], len(pose.t_s), axis=0), pose.confidence, 720, 1280)
    assert find_swings(still) == ()


def test_a_swing_in_slow_motion_is_noticed() -> None:
    swing, _ = truth_tracks("fo_none")
    slow = PoseTrack(swing.pose.t_s * 4, swing.pose.xy, swing.pose.confidence, 720, 1280)
    (window,) = find_swings(slow)
    assert window.stretch > 1.5


def test_nobody_is_no_swing() -> None:
    nobody = PoseTrack(np.arange(30) / 12, np.full((30, 21, 2), np.nan), np.zeros((30, 21)), 720, 1280)
    assert find_swings(nobody) == ()


def test_a_golfer_who_is_found_only_after_the_takeaway_lends_the_nearest_pose() -> None:
    """As in a picture so dark that nobody is found at address: there is a height to go by, and no crash."""
    swing, _ = truth_tracks("fo_none")
    pose = _coarse(swing.pose)
    (window,) = find_swings(pose)
    xy = pose.xy.copy()
    first = int(np.searchsorted(pose.t_s, window.takeaway_s)) + 1
    xy[:first] = np.nan
    hidden = PoseTrack(pose.t_s, xy, pose.confidence, pose.width, pose.height)
    part = address_part(hidden, window)
    assert part.t_s.tolist() == [pose.t_s[first]]
    assert stature_px(part) == pytest.approx(stature_px(address_part(pose, window)), rel=0.15)
