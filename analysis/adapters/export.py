"""Measured tracks as files for other programs."""

from __future__ import annotations

import csv
import importlib.util
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from analysis.adapters.motion_file import c3d_bytes
from analysis.readout import SwingReadout
from analysis.tracks import SwingTracks
from analysis.types import JOINTS

FORMATS = ("csv", "parquet", "c3d")
# Format to the library it needs and the name under which it is installed.
_LIBRARIES = {"parquet": "pyarrow", "c3d": "c3d"}
ABOUT = """Tracks of measured swings
=========================

One set of files for each swing N of the clip, as measured: a row is a frame, and an empty field was not seen.

swing_N_pose    t_s, then for each joint <joint>_x_px, <joint>_y_px, <joint>_confidence
swing_N_club    t_s, deg, confidence, grip_x_px, grip_y_px, head_x_px, head_y_px, head_confidence
swing_N_events  event, t_s, se_s, rule
swing_N.c3d     all points at an even rate, for programs that read the C3D format

Units and axes
t_s             seconds from the clip's first frame, by the clip's own timestamps
_x_px, _y_px    pixels of the upright picture scaled to the size below, x to the right, y down,
                from the upper left corner
deg             direction of the projected shaft from grip to head, degrees, atan2(y down, x right)
confidence      0 to 1; of the shaft: that its direction is right within 5 degrees
se_s            standard error of the event's time, seconds

C3D             X = x to the right and Z = height upward, pixels from the lower left corner; Y, the depth into
                the picture, is not measured and 0. Hidden points have the residual -1. EVENT:TIMES count from
                frame 1, which lies CLIP:START seconds after the clip's first frame.

Left and right are the golfer's own. One phone measures the picture, not space: an angle or a length here is a
projection. Accuracy on real footage is not validated.
"""


@dataclass(frozen=True, slots=True)
class Table:
    """Named columns of equal length."""

    name: str
    columns: dict[str, list[Any]]


def missing_library(wanted: Sequence[str]) -> str | None:
    """The library that one of the wanted formats needs and that is not installed, else None.

    Raises
    ------
    ValueError
        If a format is none of ``FORMATS``.
    """
    if unknown := set(wanted) - set(FORMATS):
        raise ValueError(f"format must be one of {FORMATS}, got {sorted(unknown)}")
    needed = [_LIBRARIES[name] for name in wanted if name in _LIBRARIES]
    return next((name for name in needed if importlib.util.find_spec(name) is None), None)


def export_swing(swing: SwingReadout, out: Path, wanted: Sequence[str]) -> list[Path]:
    """Write one swing's tracks and the file that explains them.

    Parameters
    ----------
    swing : SwingReadout
    out : Path
        Made when it isn't there.
    wanted : sequence of str
        Among ``FORMATS``.

    Returns
    -------
    list of Path
        The written files.

    Raises
    ------
    ValueError
        If a format is unknown, or its library is not installed.
    OSError
        If the folder can't be written to.
    """
    if library := missing_library(wanted):
        raise ValueError(f"format needs the library {library}, which is not installed: pip install {library}")
    out.mkdir(parents=True, exist_ok=True)
    about = out / "README.txt"
    pose = swing.tracks.pose
    about.write_text(f"{ABOUT}\nPicture size     {pose.width} x {pose.height} pixels\n", encoding="utf-8")
    written = [about]
    for table in tables_of(swing):
        if "csv" in wanted:
            written.append(_write_csv(out / f"{table.name}.csv", table))
        if "parquet" in wanted:
            written.append(_write_parquet(out / f"{table.name}.parquet", table, swing.tracks))
    if "c3d" in wanted:
        path = out / f"swing_{swing.number}.c3d"
        path.write_bytes(c3d_bytes(swing.tracks, swing.events))
        written.append(path)
    return written


def tables_of(swing: SwingReadout) -> tuple[Table, Table, Table]:
    """Pose, club and events of a swing."""
    stem, tracks = f"swing_{swing.number}", swing.tracks
    events: dict[str, list[Any]] = {
        "event": list(swing.events),
        "t_s": [event.t_s for event in swing.events.values()],
        "se_s": [event.se_s for event in swing.events.values()],
        "rule": [event.rule for event in swing.events.values()],
    }
    return (
        Table(f"{stem}_pose", _pose_columns(tracks)),
        Table(f"{stem}_club", _club_columns(tracks)),
        Table(f"{stem}_events", events),
    )


def _pose_columns(tracks: SwingTracks) -> dict[str, list[Any]]:
    pose = tracks.pose
    columns = {"t_s": _plain(pose.t_s)}
    for j, name in enumerate(JOINTS):
        columns[f"{name}_x_px"] = _plain(pose.xy[:, j, 0])
        columns[f"{name}_y_px"] = _plain(pose.xy[:, j, 1])
        columns[f"{name}_confidence"] = _plain(pose.confidence[:, j])
    return columns


def _club_columns(tracks: SwingTracks) -> dict[str, list[Any]]:
    club = tracks.club
    return {
        "t_s": _plain(club.t_s),
        "deg": _plain(club.deg),
        "confidence": _plain(club.confidence),
        "grip_x_px": _plain(club.grip_xy[:, 0]),
        "grip_y_px": _plain(club.grip_xy[:, 1]),
        "head_x_px": _plain(club.head_xy[:, 0]),
        "head_y_px": _plain(club.head_xy[:, 1]),
        "head_confidence": _plain(club.head_confidence),
    }


def _plain(values: np.ndarray) -> list[float | None]:
    return [float(v) if np.isfinite(v) else None for v in values]


def _write_csv(path: Path, table: Table) -> Path:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(table.columns)
        for row in zip(*table.columns.values(), strict=True):
            writer.writerow([f"{value:.6g}" if isinstance(value, float) else value for value in row])
    return path


def _write_parquet(path: Path, table: Table, tracks: SwingTracks) -> Path:
    import pyarrow
    import pyarrow.parquet

    facts = {
        "view": tracks.view,
        "handedness": tracks.handedness,
        "frames_per_second": f"{tracks.fps:g}",
        "width_px": str(tracks.pose.width),
        "height_px": str(tracks.pose.height),
        "axes": "x right, y down, pixels from the upper left corner; t_s seconds from the clip's first frame",
    }
    pyarrow.parquet.write_table(pyarrow.table(table.columns, metadata=facts), path)
    return path
