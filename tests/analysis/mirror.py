"""A swing seen in a mirror: the same golfer playing with the other hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.tracks import SwingTracks
from analysis.types import JOINTS, BallMark


def mirrored(swing: SwingTracks) -> SwingTracks:
    """The picture flipped left to right, joint names and handedness swapped."""
    width = swing.pose.width

    def flip(xy: np.ndarray) -> np.ndarray:
        return np.stack([width - xy[..., 0], xy[..., 1]], axis=-1)

    other = [JOINTS.index(_other_side(name)) for name in JOINTS]
    pose = replace(
        swing.pose, xy=flip(swing.pose.xy)[:, other], confidence=swing.pose.confidence[:, other].copy()
    )
    club = replace(
        swing.club,
        deg=(180 - swing.club.deg + 180) % 360 - 180,
        grip_xy=flip(swing.club.grip_xy),
        head_xy=flip(swing.club.head_xy),
    )
    ball = BallMark(flip(swing.ball.xy), swing.ball.gone_s, swing.ball.half_gap_s)
    hand = "left" if swing.handedness == "right" else "right"
    return replace(swing, pose=pose, club=club, ball=ball, handedness=hand)


def _other_side(name: str) -> str:
    if name.startswith("left_"):
        return "right_" + name.removeprefix("left_")
    if name.startswith("right_"):
        return "left_" + name.removeprefix("right_")
    return name
