"""The club's grip as a second witness for the lead wrist."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.events.level import grip_track
from analysis.tracks import SwingTracks, unwrapped_deg
from analysis.types import JOINT_INDEX, Floats

# The lead wrist lies this far up the shaft's line from the point between the hands (rendered bench, shares
# of the standing height); a pose wrist further than the second share from there is not believed.
WRIST_UP_SHAFT = 0.05
NOT_BELIEVED = 0.065
LEAST_CLUB_CONFIDENCE = 0.6


def with_fused_wrist(swing: SwingTracks) -> SwingTracks:
    """The swing with its lead wrist averaged with what the club's grip says, where the club is seen.

    Parameters
    ----------
    swing : SwingTracks
        Tracks from pictures.

    Returns
    -------
    SwingTracks
        A copy; the input is not changed.
    """
    by_grip, seen = _wrist_by_grip(swing)
    if not seen.any():
        return swing
    j = JOINT_INDEX[f"{swing.lead}_wrist"]
    xy, confidence = swing.pose.xy.copy(), swing.pose.confidence.copy()
    away = np.hypot(*(xy[:, j] - by_grip).T)
    lost = ~(away <= NOT_BELIEVED * swing.stature_px)
    fused = np.where(lost[:, None], by_grip, (xy[:, j] + by_grip) / 2)
    xy[seen, j] = fused[seen]
    confidence[seen, j] = np.maximum(confidence[seen, j], LEAST_CLUB_CONFIDENCE)
    return replace(swing, pose=replace(swing.pose, xy=xy, confidence=confidence))


def _wrist_by_grip(swing: SwingTracks) -> tuple[Floats, np.ndarray]:
    pose, club = swing.pose, swing.club
    t_s, deg = unwrapped_deg(club, LEAST_CLUB_CONFIDENCE)
    if t_s.size < 2:
        return np.zeros((len(pose.t_s), 2)), np.zeros(len(pose.t_s), bool)
    angle = np.radians(np.interp(pose.t_s, t_s, deg))
    along = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    index = np.clip(np.searchsorted(t_s, pose.t_s), 1, len(t_s) - 1)
    near = np.minimum(np.abs(t_s[index] - pose.t_s), np.abs(t_s[index - 1] - pose.t_s))
    return grip_track(swing) - WRIST_UP_SHAFT * swing.stature_px * along, near <= 1.1 / swing.fps
