"""Truth files of rendered clips: the same tracks as from pictures, without any error."""

from __future__ import annotations

import gzip
import json
from pathlib import Path
from typing import Any

import numpy as np

from analysis.tracks import SwingTracks
from analysis.types import EVENTS, JOINTS, BallMark, ClubTrack, EventTime, Floats, PoseTrack

_OTHER_NAMES = {
    "left_foot_index": "coco_left_big_toe",
    "right_foot_index": "coco_right_big_toe",
    "left_index": "left_index",
    "right_index": "right_index",
}

# The point between the hands, which the club network calls the grip, on the shaft (rendered bench).
HANDS_FROM_BUTT_M = 0.093


def read_truth(path: Path) -> dict[str, Any]:
    """Parse ``NAME.json`` or ``NAME.json.gz``.

    Raises
    ------
    ValueError
        If the file is not a truth file.
    """
    try:
        raw = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
        data = json.loads(raw)
    except (OSError, ValueError) as error:
        raise ValueError(f"the truth file {path.name} can't be read: {error}") from error
    if not isinstance(data, dict) or not {"meta", "frames"} <= set(data):
        raise ValueError(f"{path.name} is no truth file: it lacks 'meta' or 'frames'")
    return data


def truth_swing(data: dict[str, Any]) -> tuple[SwingTracks, dict[str, EventTime]]:
    """Tracks and events of a truth file.

    The joints are the surface landmarks picture detectors mean (``coco_*``); times count from the first
    frame; events have no error.
    """
    meta, frames = data["meta"], data["frames"]
    t_s = np.array([f["t"] for f in frames], float)
    first = float(t_s[0])
    events = {
        name: EventTime(float(meta["events"][name]) - first, 0.0, "truth")
        for name in EVENTS
        if meta["events"].get(name) is not None
    }
    pose = PoseTrack(
        t_s - first, _joints(meta, frames), np.ones((len(frames), len(JOINTS))), meta["width"], meta["height"]
    )
    tracks = SwingTracks(
        pose=pose,
        club=_club(frames, t_s - first, HANDS_FROM_BUTT_M / meta["club_length_m"]),
        ball=_ball(frames, t_s - first, events),
        view=meta["view"],
        handedness=meta["handedness"],
        fps=float(meta["fps"]),
        guess={name: events[name].t_s for name in ("takeaway", "top", "impact", "finish")},
        exact=True,
    )
    return tracks, events


def _joints(meta: dict[str, Any], frames: list[dict[str, Any]]) -> Floats:
    index = [meta["joints"].index(_OTHER_NAMES.get(name, f"coco_{name}")) for name in JOINTS]
    return np.array([f["j2d"] for f in frames], float)[:, index]


def _club(frames: list[dict[str, Any]], t_s: Floats, hands_share: float) -> ClubTrack:
    ends = np.array([f["club2d"] for f in frames], float)
    butt, head = ends[:, 0], ends[:, 1]
    grip = butt + hands_share * (head - butt)
    deg = np.degrees(np.arctan2(*(head - grip).T[::-1]))
    seen = np.array([f["shaft_visible"] for f in frames], float)
    return ClubTrack(t_s, deg, 0.5 + 0.5 * seen, grip, head, np.ones(len(frames)))


def _ball(frames: list[dict[str, Any]], t_s: Floats, events: dict[str, EventTime]) -> BallMark:
    still = [
        f["ball2d"] for f, t in zip(frames, t_s, strict=True) if t < events["impact"].t_s and f["ball2d"]
    ]
    if not still:
        return BallMark.unseen()
    return BallMark(np.median(np.array(still, float), axis=0), events["impact"].t_s, 0.0)
