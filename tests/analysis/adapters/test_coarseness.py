"""The codec's own word on how hard a clip was squeezed, checked against the quality it was written with."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from analysis.adapters import spoil
from analysis.adapters.coarseness import quantiser_of
from analysis.adapters.video import probe
from analysis.quality import Box, Look, look_problems
from tests.analysis.changes import stored_swing
from tests.analysis.conftest import CLIPS


@pytest.fixture(scope="module")
def reel() -> spoil.Reel:
    """The first half second of a vendored clip, a quarter of its size."""
    short = spoil.read_reel(CLIPS / "fo_none.mp4")
    short = replace(
        short, pictures=short.pictures[:30], t_s=short.t_s[:30], moved=short.moved[:30], kept=short.kept[:30]
    )
    return spoil.smaller(360)(short)


@pytest.mark.parametrize("crf", [34, 40, 46])
def test_the_quantiser_is_what_the_clip_was_written_with(reel: spoil.Reel, crf: int, tmp_path: Path) -> None:
    """A constant rate factor is the quantiser of an average picture (x264's own documentation, from memory)."""
    path = tmp_path / "clip.mp4"
    spoil.write_reel(replace(reel, crf=crf), path)
    assert quantiser_of(path, probe(path)) == pytest.approx(crf, abs=4)


def test_a_clip_with_many_bits_is_not_looked_into(reel: spoil.Reel, tmp_path: Path) -> None:
    path = tmp_path / "clip.mp4"
    spoil.write_reel(replace(reel, crf=8), path)
    assert quantiser_of(path, probe(path)) is None


def _codes(**seen: float) -> list[tuple[str, bool]]:
    look = Look(stored_swing("fo_none").pose, luma=120.0, **seen)  # type: ignore[arg-type]
    return [(p.code, p.fatal) for p in look_problems(look, 60.0)]


def test_what_was_squeezed_or_shaken_too_much_is_refused_and_less_is_said() -> None:
    assert _codes(quantiser=30.0, shake=0.03) == []
    assert _codes(quantiser=38.0) == [("compressed", False)]
    assert _codes(quantiser=45.0) == [("too_compressed_to_measure", True)]
    assert _codes(shake=0.075) == [("shaky", False)]
    assert _codes(shake=0.14) == [("too_shaky_to_measure", True)]


@pytest.mark.parametrize(
    ("other", "code"),
    [
        ((10.0, 110.0, 90.0, 400.0), "someone_close"),
        ((-400.0, 110.0, -300.0, 400.0), "someone_else"),
        ((60.0, 300.0, 90.0, 400.0), "someone_else"),
    ],
    ids=["close and large", "far off", "close by but small"],
)
def test_somebody_large_close_by_is_another_warning(other: Box, code: str) -> None:
    golfer = (100.0, 100.0, 220.0, 400.0)
    look = Look(stored_swing("fo_none").pose, luma=120.0, people=(golfer, other), golfer=0)
    assert [p.code for p in look_problems(look, 60.0)] == [code]
