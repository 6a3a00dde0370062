"""Metrics: mirror symmetry, tempo's frame error, noise propagation, and the renderer's own numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.events import detect_events
from analysis.metrics import measure
from analysis.metrics.offsets import offset_table
from analysis.metrics.registry import ALL, metrics_of
from analysis.signs import find_signs
from analysis.tracks import SwingTracks
from analysis.types import EventTime
from tests.analysis.conftest import TRUTH_NAMES, truth_data, truth_tracks
from tests.analysis.mirror import mirrored


@pytest.mark.parametrize("name", ["fo_none", "fo_reverse", "dtl_none", "dtl_over_top"])
def test_a_mirrored_swing_has_the_same_numbers(name: str) -> None:
    swing, _ = truth_tracks(name)
    other = mirrored(swing)
    events, other_events = detect_events(swing), detect_events(other)
    assert {k: e.t_s for k, e in other_events.items()} == pytest.approx(
        {k: e.t_s for k, e in events.items()}, abs=1e-6
    )
    mine, theirs = measure(swing, events), measure(other, other_events)
    values = {k: m.value for k, m in mine.items() if m.value is not None}
    assert len(values) >= 10
    assert {k: theirs[k].value for k in values} == pytest.approx(values, abs=1e-5)
    signs, other_signs = find_signs(mine, events, swing.view), find_signs(theirs, other_events, other.view)
    # Only the random draws differ, by the swapped names of the sides.
    for key, sign in signs.items():
        if sign.p is not None:
            assert other_signs[key].p == pytest.approx(sign.p, abs=0.12)


@pytest.mark.parametrize("view", ["face_on", "dtl"])
def test_at_least_ten_metrics_in_each_view(view: str) -> None:
    name = {"face_on": "fo_none", "dtl": "dtl_none"}[view]
    metrics = measure(*truth_tracks(name))
    assert sum(metrics[row.name].value is not None for row in metrics_of(view)) >= 10
    assert set(metrics) == {row.name for row in ALL}


def test_metrics_of_the_other_view_say_why_they_are_missing() -> None:
    metrics = measure(*truth_tracks("fo_none"))
    assert metrics["shaft_over_address_line"].to_json() == {"reason": "needs the down-the-line view"}


def _tempo(back_frames: int, down_frames: int) -> float:
    swing, events = truth_tracks("fo_none")
    start = events["takeaway"].t_s
    shifted = events | {
        "top": EventTime(start + back_frames / 60, 0.0, ""),
        "impact": EventTime(start + (back_frames + down_frames) / 60, 0.0, ""),
    }
    value = measure(swing, shifted)["tempo_ratio"].value
    assert value is not None
    return value


def test_one_frame_of_error_turns_a_tempo_of_three_into_2_53_to_3_62() -> None:
    # 0.75 s and 0.25 s at 60 fps are 45 and 15 frames; one frame off at takeaway, top and impact (computed).
    assert _tempo(45, 15) == pytest.approx(3.0)
    assert _tempo(43, 17) == pytest.approx(2.53, abs=0.005)
    assert _tempo(47, 13) == pytest.approx(3.62, abs=0.005)


def test_professionals_tempo_is_about_three() -> None:
    # Grober & Cholewicki (2006): most professionals take 24 of 30 frames back and 8 down: 0.80 s and 0.27 s.
    assert _tempo(48, 16) == pytest.approx(0.80 / 0.267, abs=0.01)


def test_noise_of_a_line_is_sqrt2_sigma_over_length() -> None:
    # Rule: sigma_angle = sqrt(2) sigma_px / length. Shoulders and hips are means of two points each.
    swing, events = truth_tracks("fo_none")
    draws = measure(swing, {k: EventTime(e.t_s, 0.0, "") for k, e in events.items()})[
        "trunk_tilt_address"
    ].samples
    assert draws is not None
    stature = swing.stature_px
    # Across the line, which is nearly upright, only the horizontal scatter of each point turns it.
    table = offset_table()
    scatter = {
        part: np.hypot(*(table[("face_on", f"{side}_{part}", "address")][2] for side in ("lead", "trail")))
        / 2
        for part in ("shoulder", "hip")
    }
    i = int(np.argmin(np.abs(swing.pose.t_s - events["address"].t_s)))
    ends = [
        (swing.pose.joint(f"left_{p}")[i] + swing.pose.joint(f"right_{p}")[i]) / 2
        for p in ("shoulder", "hip")
    ]
    length = float(np.hypot(*(ends[0] - ends[1])))
    row = next(row for row in ALL if row.name == "trunk_tilt_address")
    propagated = np.degrees(np.hypot(scatter["shoulder"], scatter["hip"]) * stature / length)
    expected = np.hypot(row.spread * propagated, row.floor)
    assert np.std(draws[1:]) == pytest.approx(expected, rel=0.2)  # 191 draws: 5 % at one standard error


@pytest.mark.parametrize("name", [n for n in TRUTH_NAMES if n.startswith("fo_")])
def test_picture_trunk_lean_agrees_with_the_renderer(name: str) -> None:
    # The renderer writes the lean of joint centres; ours uses surface landmarks, which lie 3 to 4
    # degrees nearer the target at the top on these bodies.
    data = truth_data(name)
    value = measure(*truth_tracks(name))["trunk_tilt_top"].value
    frame = min(data["frames"], key=lambda f: abs(f["t"] - data["meta"]["events"]["top"]))
    assert value == pytest.approx(frame["metrics"]["trunk_lean_picture"] + 3.0, abs=2.0)


@pytest.mark.parametrize("name", ["fo_none", "fo_early", "fo_left"])
def test_shaft_lean_agrees_with_the_renderer(name: str) -> None:
    data = truth_data(name)
    frames = data["frames"]
    value = measure(*truth_tracks(name))["shaft_lean_impact"].value
    when = data["meta"]["events"]["impact"]
    lean = np.interp(when, [f["t"] for f in frames], [f["metrics"]["shaft_lean"] for f in frames])
    assert value == pytest.approx(lean, abs=2.5)  # perspective: the hands are nearer the camera's height


def test_a_hidden_joint_is_missing_with_its_reason() -> None:
    swing, events = truth_tracks("fo_none")
    confidence = swing.pose.confidence.copy()
    confidence[:, [11, 12]] = 0.3
    metric = measure(replace(swing, pose=replace(swing.pose, confidence=confidence)), events)[
        "trunk_tilt_top"
    ]
    assert metric.to_json() == {"reason": "the left hip is hidden at top"}


def test_thirty_frames_a_second_are_too_few_for_shaft_lean() -> None:
    swing, events = truth_tracks("fo_none")
    assert measure(replace(swing, fps=30.0), events)["shaft_lean_impact"].to_json() == {
        "reason": "30 frames a second are too few for this"
    }


def test_slow_motion_withholds_times() -> None:
    swing, events = truth_tracks("fo_none")
    slow: SwingTracks = replace(swing, stretch=4.0)
    assert "slow motion" in measure(slow, events)["tempo_ratio"].to_json()["reason"]


def test_every_row_has_definition_source_and_grade_where_it_has_a_band() -> None:
    for row in ALL:
        assert row.definition
        assert row.sign
        if row.skilled != (None, None):
            assert row.source, row.name
            assert set(row.grade.replace("S2", "S").split("/")) <= set("SCMK"), row.name
