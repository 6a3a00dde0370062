"""A broken track put right at a few frames: against the truth of a rendered swing, which knows every joint."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.adapters.store import save_tracks
from analysis.corrected import FADE_S, JointFix, changed_rows, with_corrected_joints
from analysis.events import detect_events
from analysis.pipeline import remeasure_from_dir
from analysis.readout import overlay
from analysis.tracks import SwingTracks
from analysis.types import JOINT_INDEX
from tests.analysis.conftest import truth_tracks

pytestmark = pytest.mark.unit

JOINT = "left_wrist"
J = JOINT_INDEX[JOINT]


def broken(rows: slice, by_px: float = 90.0) -> tuple[SwingTracks, SwingTracks]:
    """The true swing, and the same with one joint shifted for some frames, as a lost track is."""
    tracks, _ = truth_tracks("fo_none")
    xy = tracks.pose.xy.copy()
    xy[rows, J] += np.array([by_px, -by_px / 2])
    return tracks, replace(tracks, pose=replace(tracks.pose, xy=xy))


def fix_at(true: SwingTracks, row: int) -> JointFix:
    x, y = true.pose.xy[row, J]
    return JointFix(JOINT, float(true.pose.t_s[row]), (x / true.pose.width, y / true.pose.height))


def away(one: SwingTracks, other: SwingTracks, rows: slice) -> float:
    return float(np.hypot(*(one.pose.xy[rows, J] - other.pose.xy[rows, J]).T).max())


def test_two_corrections_mend_what_lies_between_them() -> None:
    rows = slice(60, 72)
    true, lost = broken(rows)
    mended = with_corrected_joints(lost, [fix_at(true, 60), fix_at(true, 71)])
    assert away(lost, true, rows) > 90
    # The shift was the same all the way, so that between the two ends the truth comes back exactly.
    assert away(mended, true, rows) == pytest.approx(0, abs=1e-6)
    assert mended.pose.confidence[60, J] == mended.pose.confidence[71, J] == 1.0
    assert (mended.pose.confidence[rows, J] >= 0.6).all()


def test_a_single_correction_fades_and_touches_nothing_else() -> None:
    true, lost = broken(slice(60, 72))
    mended = with_corrected_joints(lost, [fix_at(true, 66)])
    moved = np.hypot(*(mended.pose.xy[:, J] - lost.pose.xy[:, J]).T)
    times = np.abs(true.pose.t_s - true.pose.t_s[66])
    assert mended.pose.xy[66, J] == pytest.approx(true.pose.xy[66, J])
    assert (moved[times > FADE_S] == 0).all()
    assert (np.diff(moved[66 - 3 : 67]) > 0).all() and (np.diff(moved[66:70]) < 0).all()
    others = np.delete(np.arange(lost.pose.xy.shape[1]), J)
    assert (mended.pose.xy[:, others] == lost.pose.xy[:, others]).all()
    assert (lost.pose.xy == broken(slice(60, 72))[1].pose.xy).all()


def test_a_joint_that_was_not_seen_at_all_can_be_placed() -> None:
    true, _ = truth_tracks("fo_none")
    xy = true.pose.xy.copy()
    xy[50:56, J] = np.nan
    lost = replace(true, pose=replace(true.pose, xy=xy))
    mended = with_corrected_joints(lost, [fix_at(true, 52)])
    assert mended.pose.xy[52, J] == pytest.approx(true.pose.xy[52, J])
    assert np.isnan(mended.pose.xy[54, J]).all()


def test_the_numbers_follow_the_corrected_joint_and_come_back_to_the_truth(tmp_path: Path) -> None:
    events = detect_events(truth_tracks("fo_none")[0])
    row = int(np.argmin(np.abs(truth_tracks("fo_none")[0].pose.t_s - events["impact"].t_s)))
    rows = slice(row - 6, row + 7)
    true, lost = broken(rows, 70)
    extra = {"start_s": 0.0, "end_s": 2.4, "fps": 60.0, "problems": []}
    for number, tracks in ((1, true), (2, lost)):
        save_tracks(tmp_path, number, tracks, detect_events(tracks), extra)
    wanted = remeasure_from_dir(tmp_path, 1, {})
    before = remeasure_from_dir(tmp_path, 2, {})
    after = remeasure_from_dir(tmp_path, 2, {}, [fix_at(true, row - 6), fix_at(true, row + 6)])
    differing = [name for name, found in before["metrics"].items() if found != wanted["metrics"][name]]
    assert differing, "the broken wrist must matter to some number"
    for name in differing:
        true_metric = wanted["metrics"][name]
        if "value" in true_metric:
            # Within the measurement's own standard error: half-way events may move by a fraction of a frame.
            assert after["metrics"][name]["value"] == pytest.approx(
                true_metric["value"], abs=true_metric["se"]
            ), name
    for name, event in wanted["events"].items():
        assert after["events"][name]["t"] == pytest.approx(event["t"], abs=0.002), name
    assert set(after["joint_rows"]) == {JOINT}
    assert "joint_rows" not in before


def test_the_overlay_says_which_rows_changed() -> None:
    true, lost = broken(slice(60, 72))
    mended = with_corrected_joints(lost, [fix_at(true, 66)])
    rows = changed_rows(lost, mended)[JOINT]
    fresh, old = overlay(mended)["joints"][JOINT], overlay(lost)["joints"][JOINT]
    for row, *values in rows:
        assert values == fresh[row] and values != old[row]
    untouched = set(range(len(fresh))) - {row for row, *_ in rows}
    assert all(fresh[row] == old[row] for row in untouched)


@pytest.mark.parametrize(
    ("fix", "words"),
    [
        (lambda: JointFix("left_knuckle", 0.5, (0.5, 0.5)), "joint must be one of"),
        (lambda: JointFix(JOINT, 0.5, (0.5, 1.2)), "xy must lie in 0..1"),
        (
            lambda: with_corrected_joints(truth_tracks("fo_none")[0], [JointFix(JOINT, 40.0, (0.5, 0.5))]),
            "t_s must be",
        ),
    ],
)
def test_what_is_no_correction_is_refused(fix: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        fix()  # type: ignore[operator]
