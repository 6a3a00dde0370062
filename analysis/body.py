"""Points and lengths every stage takes from a pose track."""

from __future__ import annotations

import numpy as np

from analysis.types import Floats, PoseTrack

# A bent golfer's ear-to-sole distance is about 0.84 of the standing height on the rendered bench.
EAR_TO_SOLE_SHARE = 0.84


def middle(pose: PoseTrack, part: str) -> Floats:
    """Track (T, 2) of the point midway between the left and right ``part``, pixels."""
    return (pose.joint(f"left_{part}") + pose.joint(f"right_{part}")) / 2


def torso_px(pose: PoseTrack) -> float:
    """Median distance mid-shoulder to mid-hip, pixels; NaN when never seen."""
    length = np.hypot(*(middle(pose, "shoulder") - middle(pose, "hip")).T)
    return float(np.nanmedian(length)) if np.isfinite(length).any() else float("nan")


def stature_px(pose: PoseTrack) -> float:
    """Standing height of the person in pixels, from an address posture (median over the track)."""
    ears = middle(pose, "ear")[:, 1]
    toes = np.stack([pose.joint(f"{side}_foot_index")[:, 1] for side in ("left", "right")])
    heels = np.stack([pose.joint(f"{side}_heel")[:, 1] for side in ("left", "right")])
    soles = np.maximum(toes.max(0), heels.max(0))
    reach = soles - ears
    return float(np.nanmedian(reach)) / EAR_TO_SOLE_SHARE if np.isfinite(reach).any() else float("nan")


def hand_height(pose: PoseTrack) -> Floats:
    """Height (T,) of the hands over the hips in torso lengths, + = above."""
    rise = middle(pose, "hip")[:, 1] - middle(pose, "wrist")[:, 1]
    return np.asarray(rise / torso_px(pose))


def part_of(pose: PoseTrack, start_s: float, end_s: float) -> PoseTrack:
    """The frames with ``start_s <= t_s <= end_s``; at least the nearest one."""
    keep = (pose.t_s >= start_s - 1e-9) & (pose.t_s <= end_s + 1e-9)
    if not keep.any():
        keep[int(np.argmin(np.abs(pose.t_s - (start_s + end_s) / 2)))] = True
    return PoseTrack(pose.t_s[keep], pose.xy[keep], pose.confidence[keep], pose.width, pose.height)
