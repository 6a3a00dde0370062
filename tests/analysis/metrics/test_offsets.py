"""Where the pose model puts joints: the table, its use on measured tracks only, and a coach's word before it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.bench.landmarks import fit_offsets
from analysis.events import detect_events
from analysis.metrics import measure
from analysis.metrics.offsets import ANCHORS, anchor_times, offset_table, offsets_at
from analysis.types import JOINT_INDEX, VIEWS
from tests.analysis.conftest import truth_tracks
from tests.analysis.mirror import mirrored


def test_the_table_covers_both_views_and_stays_small() -> None:
    table = offset_table()
    assert {view for view, _, _ in table} == set(VIEWS)
    assert {instant for _, _, instant in table} == set(ANCHORS)
    body = [row for (_, joint, when), row in table.items() if "hip" in joint and when == "address"]
    # Errors of two to three percent of the height are what the pose model is known for on these clips.
    assert max(abs(v) for row in body for v in row[:2]) < 0.03


def test_a_shift_put_into_tracks_is_found_again() -> None:
    truth, events = truth_tracks("fo_none")
    xy = truth.pose.xy.copy()
    xy[:, JOINT_INDEX["left_hip"]] += np.array([0.02, -0.01]) * truth.stature_px
    seen = replace(truth, exact=False, pose=replace(truth.pose, xy=xy))
    rows = {(joint, when): row for _, joint, when, *row in fit_offsets([(seen, truth, events)] * 5)}
    assert rows["lead_hip", "top"][:2] == pytest.approx([0.02, -0.01], abs=1e-3)
    assert rows["trail_hip", "top"][:2] == pytest.approx([0.0, 0.0], abs=1e-3)


def test_offsets_mirror_with_the_golfer() -> None:
    swing, events = truth_tracks("fo_none")
    anchors = anchor_times(events)
    when = np.array([events["top"].t_s])
    right, _ = offsets_at(swing, "left_hip", anchors, when, swing.stature_px)
    left, _ = offsets_at(mirrored(swing), "right_hip", anchors, when, swing.stature_px)
    assert left[0] == pytest.approx([-right[0, 0], right[0, 1]])


def test_exact_tracks_are_left_alone_and_a_coach_is_believed() -> None:
    swing, events = truth_tracks("fo_none")
    exact = measure(swing, events)["trunk_tilt_top"].value
    seen = replace(swing, exact=False)
    corrected = measure(seen, events)["trunk_tilt_top"].value
    parts = [f"{side}_{part}" for side in ("left", "right") for part in ("shoulder", "hip")]
    placed = replace(seen, by_hand={joint: np.ones(len(swing.pose.t_s)) for joint in parts})
    assert exact is not None and corrected is not None
    assert abs(corrected - exact) > 0.3
    assert measure(placed, events)["trunk_tilt_top"].value == pytest.approx(exact, abs=0.05)


def test_every_row_is_withheld_or_valued_alike_in_the_mirror() -> None:
    for name in ("fo_none", "dtl_none"):
        swing = replace(truth_tracks(name)[0], exact=False)
        mine, theirs = (measure(s, detect_events(s)) for s in (swing, mirrored(swing)))
        for key, metric in mine.items():
            other = theirs[key]
            assert (metric.value is None) == (other.value is None), key
            if metric.value is not None:
                assert other.value == pytest.approx(metric.value, abs=1e-4), key
