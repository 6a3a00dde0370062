"""Line evidence against shafts drawn at known angles."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.adapters.shaft_lines import shaft_evidence
from analysis.club.path import best_path
from analysis.club.search import search_track
from analysis.geometry import wrap_deg
from tests.analysis.club.lines import HANDS, LIMBS, STATURE, Picture, sweep

DEGS = [80.0 + 12 * k for k in range(9)]


def errors(picture: Picture, degs: list[float] = DEGS) -> np.ndarray:
    found = sweep(picture, degs)
    deg, seen = best_path(np.array([e.score for e in found]))
    assert seen.all()
    return np.abs(wrap_deg(deg - np.array(degs)))


@pytest.mark.unit
def test_a_drawn_shaft_is_found_within_a_degree() -> None:
    wrong = errors(Picture())
    assert wrong[1:].max() < 1
    assert wrong[0] < 3  # the first frame has no frame before it


@pytest.mark.unit
def test_a_net_in_front_and_a_post_behind_do_not_take_its_place() -> None:
    assert errors(Picture(net=True, post_deg=0.0)).max() < 3


@pytest.mark.unit
def test_the_direction_told_of_a_blur_wedge_lies_inside_it() -> None:
    fast = [60.0 + 24 * k for k in range(7)]
    wrong = errors(Picture(blur_deg=12.0, level=255), fast)[1:-1]
    assert wrong.max() < 6.5  # half of twelve degrees, and the rounding


@pytest.mark.unit
def test_a_still_post_alone_is_no_shaft() -> None:
    post = Picture(length=0.0, post_deg=140.0)
    frame = post.frame(None)
    seen = shaft_evidence(frame, frame, frame, frame, HANDS, LIMBS, STATURE)
    moving = sweep(Picture(), DEGS)[4]
    assert seen.score.max() < 0.35 * moving.score.max()


@pytest.mark.unit
def test_a_short_shaft_gets_little_confidence_and_a_long_one_much() -> None:
    def confidence(length: float) -> np.ndarray:
        found = sweep(Picture(length=length), DEGS)
        hands = np.repeat(HANDS[None], len(DEGS), 0)
        return search_track(np.arange(len(DEGS)) / 60, found, hands, STATURE).confidence

    assert confidence(0.45)[1:-1].min() > 0.9
    assert confidence(0.10).max() < 0.8


@pytest.mark.unit
def test_hands_must_be_known() -> None:
    frame = Picture().frame(90.0)
    with pytest.raises(ValueError, match="hands must be finite"):
        shaft_evidence(frame, frame, frame, frame, HANDS * np.nan, LIMBS, STATURE)


@pytest.mark.unit
def test_the_track_starts_at_the_hands_and_says_lines_found_it() -> None:
    found = sweep(Picture(), DEGS)
    track = search_track(np.arange(9) / 60, found, np.repeat(HANDS[None], 9, 0), STATURE)
    assert track.by_lines.all()
    assert np.allclose(track.grip_xy, HANDS[0])
    along = track.head_xy - track.grip_xy
    assert np.allclose(wrap_deg(np.degrees(np.arctan2(*along.T[::-1])) - track.deg), 0, atol=1e-6)
