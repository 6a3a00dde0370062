"""Tracks as bad luck makes them: a readout with reasons or a clear ValueError, never anything else."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from analysis.events import detect_events
from analysis.gate import find_windows
from analysis.quality import Look
from analysis.readout import read_swing
from analysis.scout import choose_golfer, find_swings
from analysis.tracks import SwingTracks
from analysis.types import JOINT_INDEX, JOINTS, BallMark, ClubTrack, PoseTrack
from tests.analysis.changes import NAMES, stored_swing

names = pytest.mark.parametrize("name", NAMES)


def first_frames(swing: SwingTracks, count: int) -> SwingTracks:
    pose = swing.pose
    return replace(
        swing,
        pose=PoseTrack(pose.t_s[:count], pose.xy[:count], pose.confidence[:count], pose.width, pose.height),
    )


def no_joints(swing: SwingTracks) -> SwingTracks:
    nothing = np.full_like(swing.pose.xy, np.nan)
    return replace(swing, pose=replace(swing.pose, xy=nothing, confidence=np.zeros(nothing.shape[:2])))


def no_club(swing: SwingTracks) -> SwingTracks:
    return replace(swing, club=ClubTrack.empty())


def nan_club(swing: SwingTracks) -> SwingTracks:
    return replace(swing, club=replace(swing.club, deg=np.full_like(swing.club.deg, np.nan)))


def nothing_at_all(swing: SwingTracks) -> SwingTracks:
    return replace(
        no_club(no_joints(swing)), ball=BallMark.unseen(), motion_t_s=np.zeros(0), motion=np.zeros(0)
    )


def one_place(swing: SwingTracks) -> SwingTracks:
    """All joints in one point in every frame."""
    return replace(swing, pose=replace(swing.pose, xy=np.full_like(swing.pose.xy, 200.0)))


def frozen(swing: SwingTracks) -> SwingTracks:
    still = np.repeat(swing.pose.xy[:1], len(swing.pose.t_s), axis=0)
    return replace(swing, pose=replace(swing.pose, xy=still))


def huge(swing: SwingTracks) -> SwingTracks:
    return replace(swing, pose=replace(swing.pose, xy=swing.pose.xy * 1e9))


def infinite(swing: SwingTracks) -> SwingTracks:
    xy = swing.pose.xy.copy()
    xy[::7] = np.inf
    return replace(swing, pose=replace(swing.pose, xy=xy))


def holes(swing: SwingTracks) -> SwingTracks:
    """A third of all joints is missing, by chance."""
    lost = np.random.default_rng(4).random(swing.pose.confidence.shape) < 0.33
    xy = np.where(lost[..., None], np.nan, swing.pose.xy)
    return replace(
        swing, pose=replace(swing.pose, xy=xy, confidence=np.where(lost, 0.0, swing.pose.confidence))
    )


def wild(swing: SwingTracks) -> SwingTracks:
    """Joints anywhere in the picture."""
    dice = np.random.default_rng(9)
    return replace(swing, pose=replace(swing.pose, xy=dice.uniform(0, 1000, swing.pose.xy.shape)))


def guesses_gone(swing: SwingTracks) -> SwingTracks:
    return replace(swing, guess=dict.fromkeys(swing.guess, math.nan))


def guesses_elsewhere(swing: SwingTracks) -> SwingTracks:
    return replace(swing, guess=dict.fromkeys(swing.guess, 1000000.0))


def one_frame(swing: SwingTracks) -> SwingTracks:
    return first_frames(swing, 1)


def two_frames(swing: SwingTracks) -> SwingTracks:
    return first_frames(swing, 2)


BREAKS: tuple[Callable[[SwingTracks], SwingTracks], ...] = (
    no_joints,
    no_club,
    nan_club,
    nothing_at_all,
    one_place,
    frozen,
    huge,
    infinite,
    holes,
    wild,
    guesses_gone,
    guesses_elsewhere,
    one_frame,
    two_frames,
)


def readout_or_refusal(tracks: SwingTracks) -> str:
    """Check the readout, or the words of the ValueError."""
    try:
        events = detect_events(tracks)
        readout = read_swing(tracks, events, number=1, start_s=0.0, end_s=1.0, fps=tracks.fps)
        data = readout.to_json()
    except ValueError as refused:
        return str(refused)
    text = json.dumps(data, allow_nan=False)
    for key, metric in readout.metrics.items():
        assert (metric.value is None) == bool(metric.reason), key
        assert metric.value is None or (math.isfinite(metric.value) and (metric.se or 0) >= 0), key
    return text


@names
@pytest.mark.parametrize("broken", BREAKS, ids=lambda change: change.__name__)
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_broken_tracks_give_a_readout_with_reasons_or_a_refusal(
    name: str, broken: Callable[[SwingTracks], SwingTracks]
) -> None:
    assert readout_or_refusal(broken(stored_swing(name)))


@names
@pytest.mark.parametrize("joint", JOINTS)
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_each_single_joint_may_be_missing(name: str, joint: str) -> None:
    swing = stored_swing(name)
    xy, confidence = swing.pose.xy.copy(), swing.pose.confidence.copy()
    xy[:, JOINT_INDEX[joint]], confidence[:, JOINT_INDEX[joint]] = np.nan, 0.0
    broken = replace(swing, pose=replace(swing.pose, xy=xy, confidence=confidence))
    assert readout_or_refusal(broken).startswith("{")


@pytest.mark.parametrize("times", [[0.0, 0.0], [0.0, 0.2, 0.1], [0.0, math.nan]])
def test_times_must_rise(times: list[float]) -> None:
    count = len(times)
    with pytest.raises(ValueError, match="t_s must rise strictly"):
        PoseTrack(np.array(times), np.zeros((count, len(JOINTS), 2)), np.zeros((count, len(JOINTS))), 9, 9)


def test_a_swing_needs_a_frame() -> None:
    with pytest.raises(ValueError, match="pose must hold at least one frame, got 0"):
        first_frames(stored_swing("fo_none"), 0)


def test_a_clip_without_frames_has_no_golfer() -> None:
    count = len(JOINTS)
    nobody = PoseTrack(np.zeros(0), np.zeros((0, count, 2)), np.zeros((0, count)), 720, 1280)
    problems, windows = find_windows(Look(nobody, luma=120.0), 60.0, None)
    assert ([p.code for p in problems], windows) == (["no_golfer"], ())


def test_shapes_are_named() -> None:
    with pytest.raises(ValueError, match=r"xy must have shape \(3, 21, 2\), got \(3, 20, 2\)"):
        PoseTrack(np.arange(3.0), np.zeros((3, 20, 2)), np.zeros((3, 21)), 9, 9)


@names
@pytest.mark.parametrize("broken", BREAKS, ids=lambda change: change.__name__)
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_the_gate_takes_broken_tracks(name: str, broken: Callable[[SwingTracks], SwingTracks]) -> None:
    """Either swings to look at, or a fatal problem that says why there are none."""
    pose = broken(stored_swing(name)).pose
    problems, windows = find_windows(Look(pose, luma=120.0), 60.0, None)
    assert bool(windows) != any(p.fatal for p in problems)
    assert choose_golfer([pose, pose]).golfer in (0, 1)


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_any_track_of_chance_is_taken() -> None:
    """Two hundred tracks of random length, holes, scale and pace: no exception, no endless search."""
    dice = np.random.default_rng(12)
    for _ in range(200):
        count = int(dice.integers(0, 60))
        xy = dice.normal(300, 10.0 ** dice.uniform(-1, 4), (count, len(JOINTS), 2))
        xy[dice.random((count, len(JOINTS))) < dice.choice([0, 0.2, 0.9])] = np.nan
        t_s = np.cumsum(10.0 ** dice.uniform(-3, 1, count))
        pose = PoseTrack(t_s, xy, dice.random((count, len(JOINTS))), 720, 1280)
        assert all(w.start_s <= w.top_s <= w.impact_s <= w.end_s for w in find_swings(pose))
        find_windows(Look(pose, luma=120.0), 60.0, None)
