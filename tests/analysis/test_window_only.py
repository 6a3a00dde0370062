"""Coarse to fine: what stands before and after the swing costs coarse looks, not close ones, and changes no number."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.adapters.lookout import SCOUT_HZ
from analysis.adapters.pose import PoseFinder
from analysis.pipeline import ClipReadout, analyse_clip
from tests.analysis.scenes import FPS, Scene, half, write_scene

WAIT_S = 4.0


def with_waiting() -> Scene:
    """Four seconds of standing at address before the swing and in the finish behind it."""
    swing, wait = list(half()), round(WAIT_S * FPS)
    before = (swing[:6] + swing[5::-1]) * (wait // 12)
    after = (swing[-6:] + swing[:-7:-1]) * (wait // 12)
    return Scene([*before, *swing, *after])


def looked(scene: Scene, path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[ClipReadout, int]:
    """The readout and how often the pose model ran."""
    runs: list[float] = []
    plain = PoseFinder.find

    def counted(self: PoseFinder, *given: object, **more: object) -> object:
        runs.append(0.0)
        return plain(self, *given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(PoseFinder, "find", counted)
    readout = analyse_clip(write_scene(path, scene))
    monkeypatch.undo()
    return readout, len(runs)


def test_a_longer_clip_costs_no_more_close_looks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    short, short_runs = looked(Scene(half()), tmp_path / "short.mp4", monkeypatch)
    long, long_runs = looked(with_waiting(), tmp_path / "long.mp4", monkeypatch)
    (one,), (other,) = short.swings, long.swings
    frames = round(2 * WAIT_S * FPS)
    print(f"\n{frames} frames more, {long_runs - short_runs} runs of the model more ({short_runs} before)")
    # Twelve coarse looks a second, none where nothing moves, and some half a second of address more.
    assert long_runs - short_runs <= 12 * 2 * WAIT_S + 40
    # Before the swing the coarse looks serve.
    early = other.tracks.pose.t_s[other.tracks.pose.t_s < other.tracks.guess["takeaway"] - 0.25]
    assert early.size >= 2 and np.diff(early).min() >= 0.9 / SCOUT_HZ
    span = other.tracks.pose.t_s[-1] - other.tracks.pose.t_s[0]
    assert span <= one.tracks.pose.t_s[-1] - one.tracks.pose.t_s[0] + 1.0
    assert other.start_s >= WAIT_S - 0.6
    assert other.end_s <= long.duration_s - WAIT_S + 1.0
    # The same swing, later.
    begin_s = round(WAIT_S * FPS) // 12 * 12 / FPS
    for event in ("takeaway", "top", "impact"):
        moved = other.events[event].t_s - begin_s - one.events[event].t_s
        assert abs(moved) <= 2 * (one.events[event].se_s + other.events[event].se_s), event
    both = [
        key
        for key in one.metrics
        if one.metrics[key].value is not None and other.metrics[key].value is not None
    ]
    apart = [
        abs(one.metrics[key].value - other.metrics[key].value) / (one.metrics[key].se + other.metrics[key].se)
        for key in both
        if key != "finish_hold"
    ]
    assert len(apart) >= 25
    assert sum(a > 1 for a in apart) <= 0.1 * len(apart)
