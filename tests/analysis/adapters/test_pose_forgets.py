"""A finder that forgot whom it followed sees what a new one sees, at any time of the clip."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest

from analysis.adapters.pose import PoseFinder
from analysis.adapters.video import Frame, decode
from analysis.types import Floats

CLIP = Path(__file__).resolve().parents[3] / "fixtures" / "clips" / "fo_none.mp4"


@pytest.fixture(scope="module")
def frames() -> list[Frame]:
    """From address into the follow-through, 15 a second; without time 0, which the library takes for none."""
    return list(decode(CLIP, long_edge=640, every=4))[1:]


def followed(finder: PoseFinder, frames: Iterable[Frame]) -> Floats:
    return np.array([finder.find(frame.rgb, frame.t_s)[0] for frame in frames])


def test_what_comes_after_is_as_from_a_new_finder(frames: list[Frame]) -> None:
    with PoseFinder() as new:
        wanted = followed(new, frames[:12])
    with PoseFinder() as finder:
        followed(finder, frames[-20:])
        finder.forget()
        found = followed(finder, frames[:12])
        finder.forget()
        again = followed(finder, frames[:12])
    assert np.isfinite(wanted).all()
    assert np.abs(found - wanted).max() == 0
    assert np.abs(again - wanted).max() == 0


def test_without_forgetting_the_places_before_linger(frames: list[Frame]) -> None:
    with PoseFinder() as new:
        wanted = followed(new, frames[:12])
    with PoseFinder() as finder:
        followed(finder, frames[-20:])
        assert np.abs(followed(finder, frames[:12]) - wanted).max() > 0
