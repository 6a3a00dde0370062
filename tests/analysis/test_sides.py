"""A pose model that takes a golfer's front for the back in some frames: the sides are told from the whole swing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.body import part_of, torso_px
from analysis.scout import SwingWindow, address_part, find_swings
from analysis.sides import with_mended_sides
from analysis.types import JOINT_INDEX, Floats, PoseTrack
from analysis.view import BORDER, ViewFinding, broadside, find_view
from tests.analysis.conftest import TRUTH_NAMES, truth_tracks
from tests.analysis.mirror import mirrored
from tests.analysis.test_view_limits import Measure, codes, from_there, measure

__all__ = ["measure"]

FACE_ON_NAMES = [name for name in TRUTH_NAMES if name.startswith("fo_")]
PARTS = ("ear", "shoulder", "elbow", "wrist", "index", "hip", "knee", "ankle", "heel", "foot_index")
BROAD = [JOINT_INDEX[f"{side}_{part}"] for side in ("left", "right") for part in ("shoulder", "hip", "ankle")]


def taken_for(pose: PoseTrack, sides: Floats) -> PoseTrack:
    """What the model makes of it: +1 the joints as they are, -1 left and right exchanged, 0 both in the middle."""
    xy = pose.xy.copy()
    for part in PARTS:
        left, right = JOINT_INDEX[f"left_{part}"], JOINT_INDEX[f"right_{part}"]
        centre, half = (pose.xy[:, left] + pose.xy[:, right]) / 2, (pose.xy[:, left] - pose.xy[:, right]) / 2
        xy[:, left], xy[:, right] = centre + sides[:, None] * half, centre - sides[:, None] * half
    return replace(pose, xy=xy)


def wavering(pose: PoseTrack, until_s: float, kept: int = 4) -> PoseTrack:
    """Exchanged up to a time but for every ``kept``-th frame, and smoothed over time, as the model does."""
    wanted = np.where((pose.t_s > until_s) | (np.arange(len(pose.t_s)) % kept == 0), 1.0, -1.0)
    sides = wanted.copy()
    for i in range(1, len(sides)):
        sides[i] = sides[i - 1] + 0.7 * (wanted[i] - sides[i - 1])
    return taken_for(pose, sides)


def coarse(pose: PoseTrack) -> PoseTrack:
    s = slice(None, None, 5)
    return replace(pose, t_s=pose.t_s[s], xy=pose.xy[s], confidence=pose.confidence[s])


def window_of(pose: PoseTrack) -> SwingWindow:
    (window,) = find_swings(pose)
    return window


def view_of(pose: PoseTrack, window: SwingWindow) -> ViewFinding:
    return find_view(address_part(pose, window), part_of(pose, window.top_s - 0.1, window.top_s + 0.1))


@pytest.mark.parametrize("kept", [3, 100])
@pytest.mark.parametrize("name", FACE_ON_NAMES)
def test_view_and_hand_of_a_golfer_whose_sides_waver_at_address(name: str, kept: int) -> None:
    swing, _ = truth_tracks(name)
    pose = coarse(swing.pose)
    window = window_of(pose)
    seen = wavering(pose, window.takeaway_s, kept)
    assert broadside(address_part(seen, window)) < BORDER
    finding = view_of(with_mended_sides(seen, window), window)
    assert (finding.view, finding.handedness, finding.from_behind) == (swing.view, swing.handedness, False)
    assert finding.view_p > 0.9


@pytest.mark.parametrize("name", FACE_ON_NAMES)
def test_wavering_joints_are_put_back_in_their_place(name: str) -> None:
    swing, _ = truth_tracks(name)
    window = window_of(swing.pose)
    seen = wavering(swing.pose, window.takeaway_s)
    mended = with_mended_sides(seen, window)
    inside = (swing.pose.t_s >= window.start_s) & (swing.pose.t_s <= window.impact_s)

    def off(pose: PoseTrack) -> float:
        return float(np.abs(pose.xy - swing.pose.xy)[inside][:, BROAD].max()) / torso_px(swing.pose)

    assert off(seen) > 0.8
    assert off(mended) < 0.2


@pytest.mark.parametrize("shoulders", [-1.0, 0.0])
def test_a_frame_exchanged_in_the_downswing_is_mended(shoulders: float) -> None:
    """The shoulders may be on their way to the other side only."""
    swing, _ = truth_tracks("fo_none")
    window = window_of(swing.pose)
    sides = np.ones(len(swing.pose.t_s))
    i = int(np.searchsorted(swing.pose.t_s, window.impact_s - 0.05))
    sides[i] = -1.0
    seen = taken_for(swing.pose, sides)
    left, right = JOINT_INDEX["left_shoulder"], JOINT_INDEX["right_shoulder"]
    half = shoulders * (swing.pose.xy[i, left] - swing.pose.xy[i, right]) / 2
    centre = (swing.pose.xy[i, left] + swing.pose.xy[i, right]) / 2
    seen.xy[i, left], seen.xy[i, right] = centre + half, centre - half
    off = np.abs(with_mended_sides(seen, window).xy - swing.pose.xy)
    feet = [JOINT_INDEX[f"{side}_{part}"] for side in ("left", "right") for part in ("ankle", "heel")]
    assert off[:, feet].max() < 1e-6
    assert off[:, BROAD].max() < 0.03 * torso_px(swing.pose)
    assert np.delete(off, i, axis=0).max() < 1e-6


def test_the_middle_of_a_pair_stays_where_it_was_seen() -> None:
    swing, _ = truth_tracks("fo_none")
    window = window_of(swing.pose)
    mended = with_mended_sides(wavering(swing.pose, window.takeaway_s), window)
    for part in PARTS:
        pair = [JOINT_INDEX[f"left_{part}"], JOINT_INDEX[f"right_{part}"]]
        assert np.allclose(mended.xy[:, pair].mean(1), swing.pose.xy[:, pair].mean(1))


@pytest.mark.parametrize("name", TRUTH_NAMES)
def test_a_track_without_a_mistake_is_left_as_it_is(name: str) -> None:
    swing, _ = truth_tracks(name)
    assert with_mended_sides(swing.pose, window_of(swing.pose)) is swing.pose


def test_down_the_line_nothing_is_told_from_the_ankles() -> None:
    swing, _ = truth_tracks("dtl_none")
    window = window_of(swing.pose)
    seen = wavering(swing.pose, window.takeaway_s)
    assert with_mended_sides(seen, window) is seen


def test_before_the_window_and_after_impact_nothing_is_touched() -> None:
    swing, _ = truth_tracks("fo_none")
    window = window_of(swing.pose)
    window = replace(window, start_s=window.takeaway_s - 0.1)
    sides = np.where(swing.pose.t_s <= window.takeaway_s, -1.0, 1.0)
    sides[swing.pose.t_s > window.impact_s + 0.3] = -1.0
    sides[swing.pose.t_s > window.impact_s + 0.4] = 1.0
    seen = taken_for(swing.pose, sides)
    mended = with_mended_sides(seen, window)
    outside = (swing.pose.t_s < window.start_s) | (swing.pose.t_s > window.impact_s + 0.3)
    assert np.array_equal(mended.xy[outside], seen.xy[outside])
    assert not np.array_equal(mended.xy, seen.xy)


def test_of_a_clip_that_begins_in_the_backswing_only_the_planted_feet_are_asked() -> None:
    """Shoulders that have turned edge-on look like mistaken ones."""
    swing, _ = truth_tracks("fo_none")
    window = window_of(swing.pose)
    late = part_of(swing.pose, window.top_s - 0.25, window.end_s)
    turning = np.clip((late.t_s - late.t_s[0]) / 0.05, 0, 1)
    xy = late.xy.copy()
    left, right = JOINT_INDEX["left_shoulder"], JOINT_INDEX["right_shoulder"]
    half = (xy[:, left] - xy[:, right]) / 2 * (1 - 0.8 * turning)[:, None]
    centre = (xy[:, left] + xy[:, right]) / 2
    xy[:, left], xy[:, right] = centre + half, centre - half
    late = replace(late, xy=xy)
    cut = replace(window, start_s=float(late.t_s[0]), takeaway_s=float(late.t_s[0]), starts_late=True)
    assert with_mended_sides(late, cut) is late
    assert with_mended_sides(late, replace(cut, starts_late=False)) is not late


@pytest.mark.parametrize("name", ["fo_none", "fo_left"])
def test_a_mirrored_picture_is_mended_alike(name: str) -> None:
    swing, _ = truth_tracks(name)
    window = window_of(swing.pose)
    seen = replace(swing, pose=wavering(swing.pose, window.takeaway_s))
    mended = replace(seen, pose=with_mended_sides(seen.pose, window))
    other = with_mended_sides(mirrored(seen).pose, window)
    assert np.allclose(other.xy, mirrored(mended).pose.xy)


@pytest.mark.parametrize("wavers", [False, True])
def test_someone_seen_from_behind_stays_refused(wavers: bool, measure: Measure) -> None:
    swing = from_there("fo_none", 180.0)
    if wavers:
        swing = replace(swing, pose=wavering(swing.pose, window_of(swing.pose).takeaway_s))
    readout = measure(swing)
    assert codes(readout) == ["from_behind"]
    assert not readout.usable


def test_the_readout_of_a_wavering_golfer_is_that_of_a_steady_one(measure: Measure) -> None:
    swing, _ = truth_tracks("fo_none")
    seen = wavering(swing.pose, window_of(swing.pose).takeaway_s)
    steady, readout = measure(swing), measure(replace(swing, pose=seen))
    assert codes(readout) == codes(steady)
    assert readout.usable
    assert (readout.tracks.view, readout.tracks.handedness) == ("face_on", "right")
    compared = 0
    for key, metric in steady.metrics.items():
        if metric.value is None or metric.se is None:
            continue
        other = readout.metrics[key].value
        assert other is not None, key
        assert abs(other - metric.value) <= 1.96 * metric.se, key
        compared += 1
    assert compared > 10
