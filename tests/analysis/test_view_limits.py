"""A camera that stands anywhere round the golfer: what it can see is measured, what it can't is said.

The golfer's 3D points go through the camera of the truth file from other places on a circle round the feet.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analysis import pipeline
from analysis.adapters import watch
from analysis.adapters.stopwatch import Stopwatch
from analysis.adapters.truth import truth_swing
from analysis.quality import Look
from analysis.readout import SwingReadout
from analysis.scout import find_swings
from analysis.tracks import SwingTracks
from analysis.types import ClubTrack
from analysis.view import YAW_SE_DEG
from tests.analysis.conftest import truth_data
from tests.analysis.metrics.test_camera_place import seen_from

Measure = Callable[..., SwingReadout]


@cache
def from_there(name: str, turned_deg: float) -> SwingTracks:
    return truth_swing(seen_from(truth_data(name), turned_deg))[0]


@pytest.fixture
def measure(monkeypatch: pytest.MonkeyPatch) -> Measure:
    """A swing's readout with the tracks that the close pass would have given."""

    def readout(swing: SwingTracks, **declared: str | None) -> SwingReadout:
        def watched(*given: Any) -> SwingTracks:
            # After path, clip, look and window come the view and the hand that were settled on.
            return replace(swing, view=given[4], handedness=given[5], exact=False)

        monkeypatch.setattr(watch, "watch_swing", watched)
        (window,) = find_swings(swing.pose)
        return pipeline._measure_swing(
            Path("clip.mp4"),
            SimpleNamespace(nominal_fps=60.0),
            Look(swing.pose, 120.0),
            window,
            1,
            declared.get("view"),
            declared.get("hand"),
            "iron",
            None,
            lambda share: None,
            Stopwatch(),
            None,
        )

    return readout


def codes(readout: SwingReadout) -> list[str]:
    return [p.code for p in readout.problems]


@pytest.mark.parametrize("turned", [-10.0, -5.0, 0.0, 5.0, 10.0])
@pytest.mark.parametrize("name", ["dtl_none", "dtl_steep", "dtl_over_top"])
def test_the_cameras_way_off_the_line_is_told_within_its_error(
    name: str, turned: float, measure: Measure
) -> None:
    """The golfer turned one way under the camera is the camera gone the other way."""
    really = truth_data(name)["meta"]["camera"]["yaw_off"] - turned
    readout = measure(from_there(name, turned))
    yaw = readout.view_yaw
    assert yaw.deg is not None and yaw.se_deg is not None
    assert abs(yaw.deg - really) <= 1.96 * yaw.se_deg
    assert YAW_SE_DEG <= yaw.se_deg < 4.0
    assert readout.tracks.view == "dtl"
    if abs(really) < 5:
        assert "off_line" not in codes(readout)


def test_far_off_the_line_is_warned_of_and_farther_off_is_no_number(measure: Measure) -> None:
    assert "off_line" in codes(measure(from_there("dtl_none", 14.0)))
    far = measure(from_there("dtl_none", 36.0), view="dtl")
    assert far.view_yaw.deg is None
    assert far.metrics["shaft_over_address_line"].value is None
    assert "off the line" in (far.metrics["shaft_over_address_line"].reason or "")


@pytest.mark.parametrize(("declared", "used"), [("face_on", "face_on"), ("dtl", "dtl")])
def test_between_the_views_the_students_word_counts_and_the_doubt_is_said(
    declared: str, used: str, measure: Measure
) -> None:
    found = {
        turned: measure(from_there("dtl_none", turned), view=declared) for turned in (-38.0, -34.0, -30.0)
    }
    unclear = [readout for readout in found.values() if "view_unclear" in codes(readout)]
    assert unclear
    assert {readout.tracks.view for readout in unclear} == {used}


def test_a_view_that_is_clearly_another_is_used_and_asked_about(measure: Measure) -> None:
    for name, said, seen in (("dtl_none", "face_on", "dtl"), ("fo_none", "dtl", "face_on")):
        readout = measure(from_there(name, 0.0), view=said)
        assert codes(readout) == ["view_differs"]
        assert readout.tracks.view == seen
        assert readout.usable


def test_a_golfer_seen_from_behind_is_refused(measure: Measure) -> None:
    readout = measure(from_there("fo_none", 180.0))
    assert codes(readout) == ["from_behind"]
    assert not readout.usable


@pytest.mark.parametrize("name", ["fo_none", "dtl_none"])
def test_without_a_club_its_numbers_are_missing_and_the_bodys_stay(name: str, measure: Measure) -> None:
    swing = from_there(name, 0.0)
    whole = measure(swing)
    clubless = measure(replace(swing, club=ClubTrack.empty()))
    doubted = measure(replace(swing, club=replace(swing.club, confidence=np.full(len(swing.club.t_s), 0.2))))
    for readout in (clubless, doubted):
        assert codes(readout) == [*codes(whole), "club_unseen"]
        assert readout.usable
        shaft = [
            key
            for key, m in readout.metrics.items()
            if "shaft" in key and whole.metrics[key].value is not None
        ]
        assert shaft
        assert all(readout.metrics[key].value is None and readout.metrics[key].reason for key in shaft)
        tilt = "trunk_tilt_top" if name == "fo_none" else "trunk_bend_top"
        assert readout.metrics[tilt].value == pytest.approx(whole.metrics[tilt].value, abs=3.0)
