"""Clips that begin late, end early, or hold waggles: what is there is right, what is missing is said to be."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from analysis.pipeline import ClipReadout, analyse_clip
from tests.analysis.clipmaker import CLIPS
from tests.analysis.conftest import truth_tracks
from tests.analysis.scenes import FPS, Scene, half, waggles, write_scene

# Where frame 0 of the scene lies in `fo_none`, frames; the whole clip's truth holds for the rest.
CUTS: dict[str, tuple[Callable[[], Scene], int]] = {
    "starts_late": (lambda: Scene(half()[50:]), 50),
    "ends_early": (lambda: Scene(half()[:108]), 0),
    "waggles": (waggles, 20 - 79),
}


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], ClipReadout]:
    """Readout of a cut clip; each is measured once."""
    folder = tmp_path_factory.mktemp("cut")
    return cache(lambda name: analyse_clip(write_scene(folder / f"{name}.mp4", CUTS[name][0]())))


@pytest.mark.parametrize(
    ("name", "code", "missing"),
    [("starts_late", "starts_late", {"address", "takeaway"}), ("ends_early", "ends_early", {"finish"})],
)
def test_missing_events_are_reported_missing(
    name: str, code: str, missing: set[str], cut: Callable[[str], ClipReadout]
) -> None:
    (swing,) = cut(name).swings
    assert code in [p.code for p in swing.problems]
    assert not missing & set(swing.events)
    assert swing.usable
    needing = [m for m in swing.metrics.values() if missing & set(m.at)]
    assert all(m.value is None and m.reason for m in needing)


@pytest.mark.parametrize("name", CUTS)
def test_top_and_impact_are_right_all_the_same(name: str, cut: Callable[[str], ClipReadout]) -> None:
    """Against the whole clip's truth; half the picture's size and an odd start, so two and three frames are allowed."""
    _, truth = truth_tracks("fo_none")
    (swing,) = cut(name).swings
    begin_s = CUTS[name][1] / FPS
    assert swing.events["impact"].t_s + begin_s == pytest.approx(truth["impact"].t_s, abs=2 / FPS)
    assert swing.events["top"].t_s + begin_s == pytest.approx(truth["top"].t_s, abs=3 / FPS)


def test_waggles_are_no_takeaway(cut: Callable[[str], ClipReadout]) -> None:
    _, truth = truth_tracks("fo_none")
    (swing,) = cut("waggles").swings
    begin_s = CUTS["waggles"][1] / FPS
    assert swing.events["takeaway"].t_s + begin_s == pytest.approx(truth["takeaway"].t_s, abs=4 / FPS)


def test_measuring_twice_gives_the_same_bits(measured: Callable[[str], ClipReadout]) -> None:
    """On one machine; every array and every number."""
    first, second = measured("fo_none"), analyse_clip(CLIPS / "fo_none.mp4")
    assert first.to_json() == second.to_json()
    for a, b in zip(first.swings, second.swings, strict=True):
        for part in ("pose", "club"):
            one, other = getattr(a.tracks, part), getattr(b.tracks, part)
            for name in one.__slots__:
                left, right = np.asarray(getattr(one, name)), np.asarray(getattr(other, name))
                assert left.tobytes() == right.tobytes(), (part, name)
