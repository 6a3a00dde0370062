"""Stored swings, corrected events, and clips that are no proper swing."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from analysis.adapters.store import load_tracks, save_tracks
from analysis.events import detect_events
from analysis.pipeline import analyse_clip, analyse_to_dir, remeasure_from_dir
from analysis.types import JOINTS
from tests.analysis.conftest import truth_tracks

Made = Callable[[str], Path]


@pytest.fixture
def stored(tmp_path: Path) -> Path:
    """A folder with one stored swing made from a truth file."""
    tracks, _ = truth_tracks("fo_none")
    extra = {"start_s": 0.0, "end_s": 2.4, "fps": 60.0, "problems": []}
    save_tracks(tmp_path, 1, tracks, detect_events(tracks), extra)
    return tmp_path


def test_stored_tracks_come_back_unchanged(stored: Path) -> None:
    tracks, _ = truth_tracks("fo_none")
    back, events, extra = load_tracks(stored, 1)
    assert (back.pose.xy == tracks.pose.xy).all()
    assert (back.club.deg == tracks.club.deg).all()
    assert events == detect_events(tracks)
    assert extra["end_s"] == 2.4


def test_correcting_the_top_changes_tempo_fast(stored: Path) -> None:
    before = remeasure_from_dir(stored, 1, {})
    top = before["events"]["top"]["t"]
    started = time.process_time()
    after = remeasure_from_dir(stored, 1, {"top": top + 0.03})
    assert time.process_time() - started < 2.0  # of the processor; some 0.1 s are usual
    assert after["events"]["top"]["t"] == pytest.approx(top + 0.03, abs=1e-4)
    assert after["metrics"]["downswing_time"]["value"] < before["metrics"]["downswing_time"]["value"]
    assert after["events"]["impact"] == before["events"]["impact"]


@pytest.mark.parametrize(
    ("events", "words"),
    [
        ({"top": 1.9}, "must not come after"),
        ({"summit": 1.0}, "event must be one of"),
        ({"impact": 40.0}, "impact must lie in"),
    ],
)
def test_impossible_corrections_are_refused(stored: Path, events: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        remeasure_from_dir(stored, 1, events)


def test_a_swing_that_was_not_stored_is_named(stored: Path) -> None:
    with pytest.raises(ValueError, match="swing number 2 is not stored"):
        remeasure_from_dir(stored, 2, {})


@pytest.mark.parametrize(
    ("clip", "code"),
    [
        ("someone_standing", "only_standing"),
        ("a_foot", "no_golfer"),
        ("empty_range", "no_golfer"),
        ("upper_half", "body_cut_off"),
        ("two_golfers", "two_people"),
    ],
)
def test_no_proper_swing_is_refused_with_the_reason(clip: str, code: str, made: Made) -> None:
    readout = analyse_clip(made(clip))
    assert [p.code for p in readout.problems if p.fatal] == [code]
    assert (readout.usable, readout.swings) == (False, ())
    empty = readout.swing_json()
    assert (empty["usable"], empty["events"], empty["signs"]) == (False, {}, {})
    assert empty["problems"][0]["sentence"].endswith(".")


def test_two_swings_in_one_clip_are_split_and_stored(made: Made, tmp_path: Path) -> None:
    steps: list[tuple[str, float]] = []
    analyse_to_dir(made("two_swings"), tmp_path, {"club_class": "iron"}, lambda s, p: steps.append((s, p)))
    readout = json.loads((tmp_path / "readout.json").read_text())
    assert [p["code"] for p in readout["problems"]] == ["several_swings"]
    assert [s["usable"] for s in readout["swings"]] == [True, True]
    first, second = (s["events"]["impact"]["t"] for s in readout["swings"])
    assert first == pytest.approx(1.519, abs=0.02)
    assert second == pytest.approx(2.5 + 1.519, abs=0.02)
    assert readout["swings"][1]["signs"]["early_release"]["level"] == "likely"
    percents = [p for _, p in steps]
    assert percents == sorted(percents)
    assert percents[-1] == 100
    tracks = json.loads((tmp_path / "tracks.json").read_text())["swings"][1]
    frames = len(tracks["t_us"])
    assert set(tracks["joints"]) == set(JOINTS)
    assert {len(rows) for rows in (*tracks["joints"].values(), tracks["shaft"])} == {frames}
    assert all(0 <= v <= 1 for row in tracks["joints"]["nose"] if row for v in row)
    # The pictures stay beside the readout; measuring again opens none.
    numbers = {key: value for key, value in readout["swings"][1].items() if key != "pictures"}
    assert remeasure_from_dir(tmp_path, 2, {}) == numbers


def test_unknown_options_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="options must be among"):
        analyse_to_dir("x.mp4", tmp_path, {"speed": 1}, lambda s, p: None)
    with pytest.raises(ValueError, match="declared_view must be one of"):
        analyse_clip("x.mp4", declared_view="front")
