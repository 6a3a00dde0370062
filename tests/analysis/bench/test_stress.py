"""Spoiling a clip: what is spoiled changes as said, and known points follow."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.adapters import spoil
from analysis.bench.score import ClipScore
from analysis.bench.stress import KINDS, LEVELS, Outcome, Trial, follow, spoiler, stress_table, trials
from tests.analysis.conftest import CLIPS, truth_data

SOMEBODY = CLIPS / "dtl_none.mp4"


@pytest.fixture(scope="module")
def reel() -> spoil.Reel:
    """Forty grey pictures with a white dot that stands still."""
    pictures = np.full((40, 160, 120, 3), 120, np.uint8)
    pictures[:, 78:83, 58:63] = 255
    still = np.tile(np.array([[1.0, 0, 0], [0, 1.0, 0]]), (40, 1, 1))
    return spoil.Reel(pictures, np.arange(40) / 60, still, np.arange(40))


def dot(picture: np.ndarray) -> np.ndarray:
    weight = np.clip(picture[..., 0].astype(float) - 180, 0, None)
    y, x = np.mgrid[: weight.shape[0], : weight.shape[1]]
    return np.array([(x * weight).sum(), (y * weight).sum()]) / weight.sum()


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("kind", ["shake", "size"])
def test_points_follow_the_picture(reel: spoil.Reel, kind: str, level: str) -> None:
    if kind == "size":
        spoiled = spoil.smaller({"mild": 90, "hard": 60, "severe": 40}[level])(reel)
    else:
        spoiled = spoiler(kind, level, SOMEBODY)(reel)
    for picture, moved in zip(spoiled.pictures[::7], spoiled.moved[::7], strict=True):
        expected = moved[:, :2] @ np.array([60.0, 80.0]) + moved[:, 2]
        np.testing.assert_allclose(dot(picture), expected, atol=0.5)


def test_each_level_is_worse_than_the_one_before(reel: spoil.Reel) -> None:
    def contrast(kind: str, level: str) -> float:
        return float(spoiler(kind, level, SOMEBODY)(reel).pictures[0, 80, 60, 0])

    for kind in ("blur", "darkness"):
        values = [contrast(kind, level) for level in LEVELS]
        assert values == sorted(values, reverse=True)
        assert values[0] > values[-1]
    lengths = [len(spoiler("rate", level, SOMEBODY)(reel).t_s) for level in LEVELS]
    assert lengths == [20, 14, 10]
    covered = [float((spoiler("net", lv, SOMEBODY)(reel).pictures[0] < 118).mean()) for lv in LEVELS]
    assert covered == sorted(covered)
    assert covered[0] > 0
    wander = [float(np.ptp(spoiler("shake", level, SOMEBODY)(reel).moved[:, 0, 2])) for level in LEVELS]
    assert wander[0] < wander[1] < wander[2]


def test_the_same_spoiling_twice_is_the_same(reel: spoil.Reel) -> None:
    for kind in ("darkness", "shake"):
        first, second = (spoiler(kind, "hard", SOMEBODY)(reel).pictures for _ in range(2))
        np.testing.assert_array_equal(first, second)


def test_a_written_reel_plays_at_its_own_times(reel: spoil.Reel, tmp_path: Path) -> None:
    slower = spoil.slower(3)(reel)
    spoil.write_reel(slower, tmp_path / "clip.mp4")
    back = spoil.read_reel(tmp_path / "clip.mp4")
    np.testing.assert_allclose(back.t_s, slower.t_s, atol=1e-4)
    assert np.abs(back.pictures.astype(int) - slower.pictures).mean() < 4


def test_a_bystander_stands_at_the_left_and_leaves_the_rest(reel: spoil.Reel) -> None:
    other = spoil.Reel(np.full_like(reel.pictures, 10), reel.t_s, reel.moved, reel.kept)
    corners = np.array([[40.0, 40], [80, 40], [80, 140], [40, 140]])
    spoiled = spoil.beside(other, [corners] * 40, 0.6, moving=True)(reel)
    assert (spoiled.pictures[5, 100:130, 5:25] < 60).mean() > 0.5
    np.testing.assert_array_equal(spoiled.pictures[:, :, 70:], reel.pictures[:, :, 70:])
    assert reel.pictures[5, 100, 15, 0] == 120


def test_the_truth_of_a_spoiled_clip_keeps_its_frames_and_counts_in_its_rate() -> None:
    truth = truth_data("fo_none")
    count = len(truth["frames"])
    pictures = np.zeros((count, 64, 36, 3), np.uint8)
    moved = np.tile(np.array([[1.0, 0, 5], [0, 1.0, -3]]), (count, 1, 1))
    reel = spoil.slower(2)(spoil.Reel(pictures, np.arange(count) / 60, moved, np.arange(count)))
    followed = follow(truth, reel)
    assert followed["meta"]["fps"] == pytest.approx(30, abs=0.3)
    assert [f["t"] for f in followed["frames"]] == [f["t"] for f in truth["frames"][::2]]
    before, after = (np.array(data["frames"][0]["club2d"]) for data in (truth, followed))
    np.testing.assert_allclose(after - before, [[5, -3], [5, -3]])
    assert truth["meta"]["fps"] == 60


def test_every_clip_runs_plain_and_in_every_kind_and_level() -> None:
    clips = [Path("a.mp4"), Path("b.mp4")]
    todo = trials(clips, KINDS)
    assert len(todo) == len(set(todo)) == 2 * (1 + len(KINDS) * len(LEVELS))
    with pytest.raises(ValueError, match="kind must be"):
        spoiler("fog", "mild", SOMEBODY)


def test_the_table_counts_refused_clips_against_the_sign() -> None:
    trial = Trial(Path("a.mp4"), "net", "hard")
    seen = ClipScore("a", "face_on", True, True, own_sign="sway", own_level="likely")
    seen.event_frames = {"top": 0.4, "impact": 2.0}
    text = stress_table([Outcome(trial, seen, ()), Outcome(trial, None, ("too_dark",))])
    assert "net          hard          2     1      1/1     0.50" in text
    assert text.endswith("1/2   too_dark")
