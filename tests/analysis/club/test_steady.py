"""Confidence from neighbours and length; two witnesses made one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.club.combine import source_shares
from analysis.club.logistic import chance, fit_chance
from analysis.club.steady import steadied
from analysis.text import readout_text
from analysis.types import ClubTrack

STATURE = 700.0


def turning(length: float = 0.4, confidence: float = 0.95, frames: int = 15) -> ClubTrack:
    t_s = np.arange(frames, dtype=float) / 60
    deg = 90 + 8.0 * np.arange(frames, dtype=float)
    grip = np.zeros((frames, 2))
    u = np.stack([np.cos(np.radians(deg)), np.sin(np.radians(deg))], 1)
    same = np.full(frames, confidence)
    return ClubTrack(t_s, deg, same, grip, grip + length * STATURE * u, same)


@pytest.mark.unit
def test_a_smooth_long_shaft_stays_sure() -> None:
    assert steadied(turning(), STATURE).confidence.min() > 0.95


@pytest.mark.unit
def test_one_frame_against_its_neighbours_is_doubted_and_they_are_not() -> None:
    track = turning()
    deg = track.deg.copy()
    deg[7] += 60
    doubted = steadied(replace(track, deg=deg), STATURE).confidence
    assert doubted[7] < 0.5
    assert np.delete(doubted, [5, 6, 7, 8, 9]).min() > 0.9


@pytest.mark.unit
def test_a_shaft_that_points_along_the_axis_is_less_sure() -> None:
    short, long = (steadied(turning(x, 0.8), STATURE).confidence.mean() for x in (0.05, 0.4))
    assert short < long


@pytest.mark.unit
def test_a_lonely_frame_keeps_its_confidence() -> None:
    one = turning(frames=1, confidence=0.7)
    assert steadied(one, STATURE).confidence.tolist() == [0.7]


@pytest.mark.unit
def test_logistic_fit_finds_the_weights_that_drew_the_data() -> None:
    draw = np.random.default_rng(1)
    features = np.stack([draw.normal(size=4000), np.ones(4000)], 1)
    true = np.array([1.5, -0.5])
    success = draw.random(4000) < chance(features, true)
    assert np.allclose(fit_chance(features, success), true, atol=0.15)


@pytest.mark.unit
def test_shares_tell_who_answered() -> None:
    track = turning(confidence=0.9)
    confidence, by_lines = track.confidence.copy(), np.zeros(15, bool)
    confidence[[4, 5]] = 0.2
    by_lines[[0, 4]] = True
    shares = source_shares(replace(track, confidence=confidence, by_lines=by_lines))
    assert shares == pytest.approx({"network": 12 / 15, "lines": 1 / 15, "unseen": 2 / 15})
    assert source_shares(ClubTrack.empty())["unseen"] == 1.0


@pytest.mark.unit
def test_the_printed_readout_names_the_club_source() -> None:
    empty = {"view": "dtl", "handedness": "right", "fps": 60.0, "usable": True}
    parts: dict[str, object] = {"problems": [], "events": {}, "metrics": {}, "signs": {}}
    shares = {"network": 0.9, "lines": 0.04, "unseen": 0.06}
    text = readout_text({**empty, **parts, "club_source": shares})
    assert "club source: network 90%, lines in the picture 4%, unseen 6% of the frames" in text
    assert "club source" not in readout_text({**empty, **parts})
