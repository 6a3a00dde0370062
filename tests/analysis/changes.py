"""Stored swings, and the same swing seen larger, elsewhere in the picture, or played at another pace."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from analysis.adapters.store import load_tracks
from analysis.events import detect_events
from analysis.readout import SwingReadout, read_swing
from analysis.tracks import SwingTracks
from analysis.types import BallMark

STORED = Path(__file__).parent / "data" / "tracks"
NAMES = ("fo_none", "dtl_none")


@cache
def stored_swing(name: str) -> SwingTracks:
    """Tracks measured from a vendored clip."""
    return load_tracks(STORED / name, 1)[0]


def read(tracks: SwingTracks) -> SwingReadout:
    """Events, metrics and signs from tracks alone."""
    start, end = float(tracks.pose.t_s[0]), float(tracks.pose.t_s[-1])
    return read_swing(tracks, detect_events(tracks), number=1, start_s=start, end_s=end, fps=tracks.fps)


def scaled(swing: SwingTracks, factor: float) -> SwingTracks:
    """All pixels, the picture's size included, times ``factor``."""
    pose = replace(
        swing.pose,
        xy=swing.pose.xy * factor,
        width=round(swing.pose.width * factor),
        height=round(swing.pose.height * factor),
    )
    club = replace(swing.club, grip_xy=swing.club.grip_xy * factor, head_xy=swing.club.head_xy * factor)
    ball = replace(swing.ball, xy=swing.ball.xy * factor)
    return replace(swing, pose=pose, club=club, ball=ball, ground_xy=swing.ground_xy * factor)


def shifted(swing: SwingTracks, dx: float, dy: float) -> SwingTracks:
    """The golfer elsewhere in the picture."""
    move = np.array([dx, dy])
    pose = replace(swing.pose, xy=swing.pose.xy + move)
    club = replace(swing.club, grip_xy=swing.club.grip_xy + move, head_xy=swing.club.head_xy + move)
    return replace(swing, pose=pose, club=club, ball=replace(swing.ball, xy=swing.ball.xy + move))


def later(swing: SwingTracks, seconds: float) -> SwingTracks:
    """The same swing later in the clip."""
    ball = BallMark(swing.ball.xy, swing.ball.gone_s + seconds, swing.ball.half_gap_s)
    return replace(
        swing,
        pose=replace(swing.pose, t_s=swing.pose.t_s + seconds),
        club=replace(swing.club, t_s=swing.club.t_s + seconds),
        ball=ball,
        guess={name: t + seconds for name, t in swing.guess.items()},
        strike_s=None if swing.strike_s is None else swing.strike_s + seconds,
        motion_t_s=swing.motion_t_s + seconds,
        ground_t_s=swing.ground_t_s + seconds,
    )


def slowed(swing: SwingTracks, factor: float) -> SwingTracks:
    """The same pictures played ``factor`` times slower, as a slow-motion file plays them."""
    ball = BallMark(swing.ball.xy, swing.ball.gone_s * factor, swing.ball.half_gap_s * factor)
    return replace(
        swing,
        pose=replace(swing.pose, t_s=swing.pose.t_s * factor),
        club=replace(swing.club, t_s=swing.club.t_s * factor),
        ball=ball,
        fps=swing.fps / factor,
        guess={name: t * factor for name, t in swing.guess.items()},
        stretch=swing.stretch * factor,
        strike_s=None if swing.strike_s is None else swing.strike_s * factor,
        motion_t_s=swing.motion_t_s * factor,
        ground_t_s=swing.ground_t_s * factor,
    )
