"""Clips measured once a session, and truth files by name."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from analysis.adapters.truth import read_truth, truth_swing
from analysis.pipeline import ClipReadout, analyse_clip
from analysis.tracks import SwingTracks
from analysis.types import EventTime
from tests.analysis.clipmaker import CLIPS, MAKERS, write_clip
from tests.measured import remembered

TRUTH_NAMES = sorted(path.name.removesuffix(".json.gz") for path in CLIPS.glob("*.json.gz"))


@cache
def truth_data(name: str) -> dict[str, Any]:
    """The parsed truth file of a vendored clip."""
    return read_truth(CLIPS / f"{name}.json.gz")


def truth_tracks(name: str) -> tuple[SwingTracks, dict[str, EventTime]]:
    """Tracks and events of a truth file."""
    return truth_swing(truth_data(name))


@pytest.fixture(scope="session")
def measured() -> Callable[[str], ClipReadout]:
    """Readout of a vendored clip; each is measured once in a run."""

    def readout(name: str) -> ClipReadout:
        path = CLIPS / f"{name}.mp4"
        return remembered(path, {}, lambda: analyse_clip(path))

    return cache(readout)


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """Path of a glued clip by the name of its maker."""
    folder = tmp_path_factory.mktemp("made")
    return cache(lambda name: write_clip(folder / f"{name}.mp4", MAKERS[name]()))
