"""Decoded pictures are let go of as they come: at 4K each is a dozen megabytes, and none may wait for chance."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import av
import pytest

from analysis.adapters import coarseness, spoil
from analysis.adapters.video import decode, probe
from tests.analysis.conftest import CLIPS

# The one in hand, the one that comes, and what decoder and first question hold.
FEW = 6


@pytest.fixture(autouse=True)
def nobody_collects() -> Iterator[None]:
    gc.collect()
    gc.disable()
    yield
    gc.enable()


def held() -> int:
    return sum(isinstance(one, av.VideoFrame) for one in gc.get_objects())


def test_no_picture_of_a_clip_waits_for_the_garbage_collector() -> None:
    before, most = held(), 0
    for count, _ in enumerate(decode(CLIPS / "fo_none.mp4", long_edge=256)):
        if count % 20 == 0:
            most = max(most, held() - before)
    print(f"\nat most {most} of {count + 1} decoded pictures held")
    assert count > 100 and most <= FEW


def test_asking_how_hard_it_was_squeezed_holds_few_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    reel = spoil.smaller(360)(spoil.read_reel(CLIPS / "fo_none.mp4"))
    path, most = tmp_path / "clip.mp4", 0
    spoil.write_reel(replace(reel, crf=44), path)
    clip, before, asked = probe(path), held(), coarseness._said_by

    def counted(frame: av.VideoFrame) -> int | None:
        nonlocal most
        most = max(most, held() - before)
        return asked(frame)

    monkeypatch.setattr(coarseness, "_said_by", counted)
    assert coarseness.quantiser_of(path, clip) is not None
    print(f"\nat most {most} of {coarseness.PICTURES} pictures held")
    assert most <= FEW + coarseness.AT_ONCE
