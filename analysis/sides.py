"""Left and right set right where the pose model mistook a golfer's front for the back in some frames.

At address, head down and hands before the body, a small golfer seen from the front looks much like one seen from
behind. The model then takes one for the other from frame to frame, and its smoothing over time leaves frames between
in which left and right fall together. Once the body turns it errs no more. An exchange, whole or in part, leaves the
middle of a pair of joints where it is; only the way from the right joint to the left one has to be mended.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analysis.body import torso_px
from analysis.scout import SwingWindow
from analysis.types import JOINT_INDEX, Floats, PoseTrack

# Ankles this many trunk lengths apart show a golfer seen broadside: face-on rendered clips have 0.85 to 1.15,
# down-the-line ones 0.01 to 0.16.
BROADSIDE_ANKLES = 0.5
# In the first third of the backswing a body turned by less than 35 degrees keeps this share of its breadth, and feet
# that stay where they are keep more.
KEPT_SHARE, KEPT_SHARE_OF_STANCE = 0.8, 0.9
# Below this share of the least to be expected a pair is no longer only badly seen.
MISTAKEN_SHARE = 0.6
EARLY_PART = 1 / 3
# The coarse pass places impact this well; after it the model has not erred, and the feet may leave their place.
AFTER_IMPACT_S = 0.15
USUAL_PERCENTILE = 90
# Which pair tells whether a pair is exchanged before the body has turned: arms and head have no breadth of their own
# at address, and feet turn on their heels and toes.
LEADER = {
    "ear": "shoulder",
    "shoulder": "shoulder",
    "elbow": "shoulder",
    "wrist": "shoulder",
    "index": "shoulder",
    "hip": "hip",
    "knee": "knee",
    "ankle": "ankle",
    "heel": "ankle",
    "foot_index": "ankle",
}


def with_mended_sides(pose: PoseTrack, window: SwingWindow) -> PoseTrack:
    """The track with left and right joints exchanged back where they were mistaken for each other.

    The feet stay planted till impact, so the ankles' usual place over the swing tells the sides. Someone who is seen
    from behind all through stays so; a golfer who is not seen broadside is left alone.

    Parameters
    ----------
    pose : PoseTrack
        Pixels; coarse or at full rate.
    window : SwingWindow
        The swing; frames before it and after impact are left alone.

    Returns
    -------
    PoseTrack
        ``pose`` itself where nothing was mistaken.
    """
    last_s = window.impact_s + AFTER_IMPACT_S * window.stretch
    inside = (pose.t_s >= window.start_s - 1e-9) & (pose.t_s <= last_s)
    swing = (pose.t_s > window.takeaway_s) & (pose.t_s <= window.finish_s)
    unturned_s = window.takeaway_s + EARLY_PART * (window.top_s - window.takeaway_s)
    early = inside & (pose.t_s <= (-np.inf if window.starts_late else unturned_s))
    stance = _middle_value(_breadth(pose, "ankle")[swing])
    if not abs(stance) > BROADSIDE_ANKLES * torso_px(pose):
        return pose
    planted = _breadth(pose, "ankle") / stance / KEPT_SHARE_OF_STANCE
    # Where the ankles are exchanged in the swing, the smoothed shoulders and hips are still on their way: no frame of
    # theirs is turned back there.
    late = np.maximum(planted, 0.0)
    shares = {
        pair: np.where(early, _early_share(pose, pair, early, stance), late)
        for pair in set(LEADER.values()) - {"ankle"}
    }
    shares["ankle"] = planted
    mistaken = [shares[pair][inside] < MISTAKEN_SHARE for pair in ("ankle", "shoulder")]
    if not np.any(mistaken):
        return pose
    xy = pose.xy.copy()
    for pair, leader in LEADER.items():
        left, right = JOINT_INDEX[f"left_{pair}"], JOINT_INDEX[f"right_{pair}"]
        centre = (pose.xy[:, left] + pose.xy[:, right]) / 2
        half = _mended((pose.xy[:, left] - pose.xy[:, right]) / 2, shares[leader], inside, pose.t_s)
        xy[inside, left], xy[inside, right] = (centre + half)[inside], (centre - half)[inside]
    return replace(pose, xy=xy)


def _breadth(pose: PoseTrack, pair: str) -> Floats:
    """How far (T,) the left joint lies right of the right one, pixels."""
    return np.asarray((pose.joint(f"left_{pair}") - pose.joint(f"right_{pair}"))[:, 0])


def _middle_value(x: Floats) -> float:
    return float(np.nanmedian(x)) if np.isfinite(x).any() else float("nan")


def _early_share(pose: PoseTrack, pair: str, early: NDArray[np.bool_], stance: float) -> Floats:
    """A pair's breadth (T,) as a share of the least to be expected before the body turns, - where exchanged."""
    breadth = _breadth(pose, pair)
    seen = np.abs(breadth[early & np.isfinite(breadth)])
    usual = float(np.percentile(seen, USUAL_PERCENTILE)) if seen.size else 0.0
    return breadth / (np.sign(stance) * usual * KEPT_SHARE) if usual > 0 else np.full(len(breadth), np.nan)


def _mended(half: Floats, share: Floats, inside: NDArray[np.bool_], t_s: Floats) -> Floats:
    """Half the way (T, 2) from right to left: turned back where exchanged, between its neighbours where collapsed."""
    out = np.where((share <= -1)[:, None], -half, half)
    seen = np.isfinite(out).all(1)
    collapsed = inside & seen & (np.abs(share) < 1)
    good = inside & seen & ~collapsed
    if good.any():
        for axis in range(2):
            out[collapsed, axis] = np.interp(t_s[collapsed], t_s[good], out[good, axis])
    return out
