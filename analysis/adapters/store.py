"""Tracks of measured swings on disk, so that numbers can be computed again without pictures."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from analysis.tracks import SwingTracks
from analysis.types import BallMark, ClubTrack, EventTime, PoseTrack

_META = ("view", "handedness", "fps", "guess", "stretch", "is_timed", "club_class", "strike_s")


def track_file(out_dir: Path, number: int) -> Path:
    """Where swing ``number`` (from 1) is kept."""
    return out_dir / f"swing_{number}.npz"


def save_tracks(
    out_dir: Path, number: int, tracks: SwingTracks, events: Mapping[str, EventTime], extra: Mapping[str, Any]
) -> Path:
    """Write one swing; returns the file."""
    meta = {key: getattr(tracks, key) for key in _META} | {
        "width": tracks.pose.width,
        "height": tracks.pose.height,
        "gone_s": tracks.ball.gone_s,
        "half_gap_s": tracks.ball.half_gap_s,
        "exact": tracks.exact,
        "events": {name: [e.t_s, e.se_s, e.rule] for name, e in events.items()},
        "extra": dict(extra),
    }
    path = track_file(out_dir, number)
    np.savez_compressed(
        path,
        meta=np.array(json.dumps(meta)),
        pose_t=tracks.pose.t_s,
        pose_xy=tracks.pose.xy,
        pose_confidence=tracks.pose.confidence,
        club_t=tracks.club.t_s,
        club_deg=tracks.club.deg,
        club_confidence=tracks.club.confidence,
        club_grip=tracks.club.grip_xy,
        club_head=tracks.club.head_xy,
        club_head_confidence=tracks.club.head_confidence,
        club_by_lines=tracks.club.from_lines,
        ball=tracks.ball.xy,
        motion_t=tracks.motion_t_s,
        motion=tracks.motion,
        ground_t=tracks.ground_t_s,
        ground=tracks.ground_xy,
    )
    return path


def load_tracks(out_dir: Path, number: int) -> tuple[SwingTracks, dict[str, EventTime], dict[str, Any]]:
    """Read what ``save_tracks`` wrote.

    Raises
    ------
    ValueError
        If that swing was not stored.
    """
    path = track_file(out_dir, number)
    if not path.is_file():
        raise ValueError(f"swing number {number} is not stored in {out_dir.name!r}")
    with np.load(path, allow_pickle=False) as z:
        meta = json.loads(str(z["meta"]))
        pose = PoseTrack(z["pose_t"], z["pose_xy"], z["pose_confidence"], meta["width"], meta["height"])
        club = ClubTrack(
            z["club_t"],
            z["club_deg"],
            z["club_confidence"],
            z["club_grip"],
            z["club_head"],
            z["club_head_confidence"],
            z["club_by_lines"] if "club_by_lines" in z.files else np.zeros(0, bool),
        )
        ball = BallMark(z["ball"], meta["gone_s"], meta["half_gap_s"])
        motion = {"motion_t_s": z["motion_t"], "motion": z["motion"]}
        # Tracks from before some of it was kept lack it.
        if "ground" in z.files:
            motion |= {"ground_t_s": z["ground_t"], "ground_xy": z["ground"]}
    known = {key: meta[key] for key in _META if key in meta} | {"exact": meta.get("exact", False)}
    tracks = SwingTracks(pose=pose, club=club, ball=ball, **motion, **known)
    events = {name: EventTime(t, se, rule) for name, (t, se, rule) in meta["events"].items()}
    return tracks, events, meta["extra"]
