"""Tracks of a swing as a C3D file, the exchange format of movement laboratories."""

from __future__ import annotations

import io
import struct
import warnings
from collections.abc import Mapping
from typing import Any

import numpy as np

from analysis.sheet.body import SEEN, WIDEST_GAP_S
from analysis.tracks import SwingTracks
from analysis.types import JOINTS, EventTime, Floats

CLUB_POINTS = ("club_grip", "club_head")
POINTS = (*JOINTS, *CLUB_POINTS, "ball")
UNITS = "px"
# Where a point is hidden, by the format's rule.
HIDDEN = -1.0
_BLOCK = 512


def grid_of(tracks: SwingTracks) -> Floats:
    """Evenly spaced times (F,) from the first to the last pose, seconds of the clip, at the measured rate."""
    start, end = float(tracks.pose.t_s[0]), float(tracks.pose.t_s[-1])
    return start + np.arange(int(np.floor((end - start) * tracks.fps + 1e-6)) + 1) / tracks.fps


def points_on(tracks: SwingTracks, t_s: Floats) -> Floats:
    """Every point at evenly spaced times, between the measured frames on both sides.

    Parameters
    ----------
    tracks : SwingTracks
    t_s : ndarray of shape (F,)
        Seconds of the clip.

    Returns
    -------
    ndarray of shape (F, P, 2)
        Pixels of the upright frame, x right, y down, in the order of ``POINTS``; NaN where the point was not
        seen on both sides, or the measured frames lie more than 0.12 s of real time apart.
    """
    pose, club, gap = tracks.pose, tracks.club, WIDEST_GAP_S * tracks.stretch
    columns = [_between(pose.t_s, pose.xy[:, j], pose.confidence[:, j], t_s, gap) for j in range(len(JOINTS))]
    columns.append(_between(club.t_s, club.grip_xy, club.confidence, t_s, gap))
    columns.append(_between(club.t_s, club.head_xy, club.head_confidence, t_s, gap))
    ball = np.repeat(np.asarray(tracks.ball.xy, float)[None], len(t_s), axis=0)
    ball[t_s > tracks.ball.gone_s] = np.nan
    return np.stack([*columns, ball], axis=1)


def _between(at_s: Floats, xy: Floats, confidence: Floats, t_s: Floats, gap: float) -> Floats:
    out = np.full((len(t_s), 2), np.nan)
    seen = (confidence >= SEEN) & np.isfinite(xy).all(axis=1)
    if not at_s.size or not seen.any():
        return out
    after = np.clip(np.searchsorted(at_s, t_s - 1e-9), 0, len(at_s) - 1)
    before = np.where(np.abs(at_s[after] - t_s) < 1e-6, after, np.maximum(after - 1, 0))
    step = at_s[after] - at_s[before]
    share = np.clip(np.divide(t_s - at_s[before], step, out=np.zeros_like(t_s), where=step > 0), 0, 1)[
        :, None
    ]
    good = seen[before] & seen[after] & (step <= gap)
    out[good] = ((1 - share) * xy[before] + share * xy[after])[good]
    return out


def c3d_bytes(tracks: SwingTracks, events: Mapping[str, EventTime]) -> bytes:
    """A whole C3D file.

    Parameters
    ----------
    tracks : SwingTracks
    events : mapping of EventTime

    Returns
    -------
    bytes
        Little-endian floating point. X is the picture's x to the right and Z the picture's height upward, both
        in pixels from the lower left corner; Y, the depth into the picture, is 0: one phone does not measure
        it. Frame 1 lies ``CLIP:START`` seconds after the clip's first frame; ``EVENT:TIMES`` count from frame 1.

    Raises
    ------
    ModuleNotFoundError
        If the library ``c3d`` is not installed.

    References
    ----------
    Motion Lab Systems, The C3D File Format: A Technical User Guide (c3d.org).
    """
    import c3d

    t_s = grid_of(tracks)
    xy = points_on(tracks, t_s)
    writer = c3d.Writer(point_rate=float(tracks.fps), point_scale=-1.0, point_units=UNITS)
    writer.set_point_labels(list(POINTS))
    writer.set_screen_axis("+X", "+Z")
    no_analog = np.zeros((0, 1))
    writer.add_frames([(_frame(row, tracks.pose.height), no_analog) for row in xy])
    _add_events(writer, events, float(t_s[0]))
    _add_clip(writer, tracks, float(t_s[0]))
    file = io.BytesIO()
    with warnings.catch_warnings():
        # The library warns that there is no second kind of data, which a film doesn't have.
        warnings.simplefilter("ignore", UserWarning)
        writer.write(file)
    return _finished(file.getvalue(), len(t_s))


def _frame(xy: Floats, height: int) -> Floats:
    """One frame (P, 5): X, Y, Z, residual, cameras."""
    out = np.zeros((len(xy), 5))
    seen = np.isfinite(xy).all(axis=1)
    out[seen, 0], out[seen, 2] = xy[seen, 0], height - xy[seen, 1]
    out[~seen, 3] = HIDDEN
    return out


def _add_events(writer: Any, events: Mapping[str, EventTime], start_s: float) -> None:
    names = list(events)
    group = writer.get_create("EVENT")
    group.set("USED", "Number of events", 2, "<H", len(names))
    if not names:
        return
    width = max(len(name) for name in names)
    group.add_str("LABELS", "Event names", "".join(name.ljust(width) for name in names), width, len(names))
    contexts = "General"
    group.add_str("CONTEXTS", "Side", contexts * len(names), len(contexts), len(names))
    # The format keeps minutes and seconds of each event.
    times = b"".join(struct.pack("<ff", 0.0, events[name].t_s - start_s) for name in names)
    group.add("TIMES", "Minutes and seconds from frame 1", 4, "<f", times, 2, len(names))


def _add_clip(writer: Any, tracks: SwingTracks, start_s: float) -> None:
    group = writer.add_group(writer.numeric_key_next, "CLIP", "What was filmed")
    group.add_str("VIEW", "face_on or dtl (down-the-line)", tracks.view, len(tracks.view))
    group.add_str("HAND", "The golfer's hand", tracks.handedness, len(tracks.handedness))
    group.set("START", "Frame 1, seconds of the clip", 4, "<f", start_s)
    group.set("STRETCH", "Clip time over real time", 4, "<f", tracks.stretch)
    group.set("WIDTH", "Pixels", 2, "<H", tracks.pose.width)
    group.set("HEIGHT", "Pixels", 2, "<H", tracks.pose.height)
    axes = "X right, Y depth (not measured, 0), Z up; pixels from the lower left corner"
    group.add_str("AXES", "Axes", axes, len(axes))


def _finished(file: bytes, frames: int) -> bytes:
    """What the library leaves open: hidden points keep the place of the frame before, the section lacks its mark."""
    out = bytearray(file)
    section = (out[0] - 1) * _BLOCK
    out[section : section + 2] = b"\x01\x50"
    start = (struct.unpack_from("<H", file, 16)[0] - 1) * _BLOCK
    rows = np.frombuffer(file, "<f4", frames * len(POINTS) * 4, start).reshape(-1, 4).copy()
    rows[rows[:, 3] == HIDDEN, :3] = 0.0
    out[start : start + rows.nbytes] = rows.tobytes()
    return bytes(out)
