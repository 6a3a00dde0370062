"""Exported tracks, read back by other readers and against the published layout of the C3D format."""

from __future__ import annotations

import csv
import importlib.util
import io
import struct
import warnings
from dataclasses import replace
from pathlib import Path

import c3d
import numpy as np
import pyarrow.parquet
import pytest

from analysis.adapters.export import FORMATS, export_swing, missing_library
from analysis.adapters.motion_file import POINTS, c3d_bytes, grid_of, points_on
from analysis.readout import SwingReadout, read_swing
from analysis.types import JOINT_INDEX
from tests.analysis.conftest import truth_tracks


@pytest.fixture
def swing() -> SwingReadout:
    """True tracks, with one hidden wrist and one long gap in the poses."""
    tracks, events = truth_tracks("fo_none")
    pose = tracks.pose
    confidence, xy = pose.confidence.copy(), pose.xy.copy()
    confidence[40:50, JOINT_INDEX["left_wrist"]] = 0.1
    xy[60:62, JOINT_INDEX["right_knee"]] = np.nan
    kept = np.ones(len(pose.t_s), bool)
    kept[100:112] = False
    gappy = replace(pose, t_s=pose.t_s[kept], xy=xy[kept], confidence=confidence[kept])
    changed = replace(tracks, pose=gappy)
    return read_swing(changed, events, number=2, start_s=0.0, end_s=2.4, fps=tracks.fps)


def read_back(data: bytes) -> tuple[c3d.Reader, np.ndarray]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        reader = c3d.Reader(io.BytesIO(data))
        frames = np.array([points for _, points, _ in reader.read_frames()])
    return reader, frames


def words(parameter: c3d.Param) -> list[str]:
    return [str(word).strip() for word in parameter.string_array]


def test_c3d_points_rate_and_labels_come_back(swing: SwingReadout) -> None:
    reader, frames = read_back(c3d_bytes(swing.tracks, swing.events))
    assert reader.point_rate == pytest.approx(swing.tracks.fps)
    assert [label.strip() for label in reader.point_labels] == list(POINTS)
    grid = grid_of(swing.tracks)
    assert frames.shape == (len(grid), len(POINTS), 5)
    assert (reader.first_frame, reader.last_frame) == (1, len(grid))
    expected = points_on(swing.tracks, grid)
    seen = np.isfinite(expected).all(axis=2)
    assert 0.9 < seen.mean() < 1.0
    assert np.array_equal(frames[:, :, 3] >= 0, seen)
    assert np.abs(frames[seen][:, 0] - expected[seen][:, 0]).max() < 1e-3
    assert np.abs((swing.tracks.pose.height - frames[seen][:, 2]) - expected[seen][:, 1]).max() < 1e-3
    assert (frames[:, :, 1] == 0).all()
    assert (frames[~seen][:, :3] == 0).all()


def test_c3d_says_units_axes_view_and_events(swing: SwingReadout) -> None:
    reader, _ = read_back(c3d_bytes(swing.tracks, swing.events))
    assert reader.get("POINT:UNITS").string_value.strip() == "px"
    assert (reader.get("POINT:X_SCREEN").string_value, reader.get("POINT:Y_SCREEN").string_value) == (
        "+X",
        "+Z",
    )
    assert "Y depth (not measured, 0)" in reader.get("CLIP:AXES").string_value
    assert reader.get("CLIP:VIEW").string_value == "face_on"
    assert words(reader.get("EVENT:LABELS")) == list(swing.events)
    start = reader.get("CLIP:START").float_value
    times = np.asarray(reader.get("EVENT:TIMES").float_array).reshape(-1, 2)
    assert times[:, 0].tolist() == [0.0] * len(swing.events)
    assert times[:, 1] + start == pytest.approx([event.t_s for event in swing.events.values()], abs=1e-5)


def test_c3d_header_is_as_published(swing: SwingReadout) -> None:
    """Words of the header by the C3D format's user guide (c3d.org, "The header section"), read without a library."""
    data = c3d_bytes(swing.tracks, swing.events)
    parameter_block, key = data[0], data[1]
    points, analog, first, last, gap, scale, data_block, per_frame, rate = struct.unpack_from(
        "<5HfHHf", data, 2
    )
    assert key == 0x50
    assert (points, analog, per_frame, gap) == (len(POINTS), 0, 0, 0)
    assert (first, last) == (1, len(grid_of(swing.tracks)))
    assert scale < 0  # real numbers, not integers
    assert rate == pytest.approx(swing.tracks.fps)
    section = (parameter_block - 1) * 512
    assert data[section : section + 2] == b"\x01\x50"
    assert data[section + 3] == 84  # 83 + 1: Intel byte order
    assert data_block == parameter_block + data[section + 2]
    assert len(data) % 512 == 0
    assert len(data) - (data_block - 1) * 512 >= len(grid_of(swing.tracks)) * len(POINTS) * 16
    # A point of the first frame, straight from the bytes: X, Y, Z and the residual.
    x, y, z, residual = struct.unpack_from("<4f", data, (data_block - 1) * 512)
    nose = points_on(swing.tracks, grid_of(swing.tracks))[0, 0]
    assert (x, y, z, residual) == pytest.approx((nose[0], 0, swing.tracks.pose.height - nose[1], 0), abs=1e-3)


def test_between_measured_frames_points_lie_between_and_long_gaps_stay_open(swing: SwingReadout) -> None:
    pose = swing.tracks.pose
    middle = (pose.t_s[10:11] + pose.t_s[11:12]) / 2
    knee = POINTS.index("left_knee")
    there = points_on(swing.tracks, middle)[0, knee]
    assert there == pytest.approx((pose.joint("left_knee")[10] + pose.joint("left_knee")[11]) / 2)
    in_gap = points_on(swing.tracks, np.array([float(pose.t_s[99] + pose.t_s[100]) / 2]))
    assert np.isnan(in_gap[0, knee]).all()


def test_tables_hold_the_tracks_and_say_where_nothing_was_seen(swing: SwingReadout, tmp_path: Path) -> None:
    written = export_swing(swing, tmp_path / "out", ("csv", "parquet"))
    assert {path.name for path in written} == {
        "README.txt",
        *(
            f"swing_2_{table}.{ending}"
            for table in ("pose", "club", "events")
            for ending in ("csv", "parquet")
        ),
    }
    with (tmp_path / "out" / "swing_2_pose.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    pose = swing.tracks.pose
    assert [float(row["t_s"]) for row in rows] == pytest.approx(pose.t_s, rel=1e-5)
    knee = [float(row["left_knee_y_px"]) for row in rows]
    assert knee == pytest.approx(pose.joint("left_knee")[:, 1], rel=1e-5)
    assert [i for i, row in enumerate(rows) if not row["right_knee_x_px"]] == [60, 61]
    table = pyarrow.parquet.read_table(tmp_path / "out" / "swing_2_club.parquet")
    assert table.column("deg").to_numpy() == pytest.approx(swing.tracks.club.deg)
    assert table.schema.metadata[b"view"] == b"face_on"
    assert b"x right, y down" in table.schema.metadata[b"axes"]
    with (tmp_path / "out" / "swing_2_events.csv").open(encoding="utf-8", newline="") as file:
        assert [row["event"] for row in csv.DictReader(file)] == list(swing.events)
    about = (tmp_path / "out" / "README.txt").read_text(encoding="utf-8")
    assert "720 x 1280 pixels" in about
    assert "y down" in about


def test_a_library_that_is_not_there_is_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, swing: SwingReadout
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    assert missing_library(("csv",)) is None
    assert missing_library(("csv", "parquet")) == "pyarrow"
    with pytest.raises(ValueError, match="needs the library c3d"):
        export_swing(swing, tmp_path, ("c3d",))
    assert list(tmp_path.iterdir()) == []


def test_unknown_formats_are_refused() -> None:
    with pytest.raises(ValueError, match="format must be one of"):
        missing_library(("xls",))
    assert FORMATS == ("csv", "parquet", "c3d")
