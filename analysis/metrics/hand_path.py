"""Down-the-line: the hands' way down against their way back, and the shaft against its address line."""

from __future__ import annotations

import numpy as np

from analysis.body import part_of
from analysis.geometry import wrap_deg
from analysis.metrics.sampler import Missing, Sampler
from analysis.types import Floats
from analysis.view import camera_yaw

LEVELS = 7
# A projected shaft shorter than this share of its address length points too much along the lens.
LEAST_LENGTH_SHARE = 0.6
# A shaft in the early downswing looks so much flatter for each degree the camera stands on the ball's side of the
# line: 0.55 to 0.9 on rendered clips with -11 to +10 degrees.
FLATTER_PER_YAW_DEG, FLATTER_SE = 0.7, 0.25
# Bridging a club hidden around the top (seconds of real time): what counts on each side of the gap, the
# longest gap, and the bridge's error in percent of height, from hiding the club in rendered clips.
BRIDGE_SIDE_S, BRIDGE_LONGEST_S, BRIDGE_SD = 0.045, 0.25, 4.0


def _segment(s: Sampler, start: str, end: str) -> tuple[Floats, Floats]:
    """Hands' heights (S, N) above the address hands and places toward the ball (S, N), pixels."""
    steps = 24
    rest = s.hands("address")
    a, b = s.times(start)[0], s.times(end)[0]
    track = s.hands_track()
    t_s = s.swing.pose.t_s
    when = np.linspace(a, b, steps)
    x = np.interp(when, t_s, track[:, 0]) * s.swing.plus_x
    y = np.interp(when, t_s, track[:, 1])
    return rest[0, 1] - y, x


def hand_path_out(s: Sampler) -> Floats:
    """Largest mean distance of the downswing path outside the backswing path, percent of height.

    Compared at equal heights between waist and shoulder, + = nearer the ball on the way down.
    """
    up_h, up_x = _segment(s, "takeaway", "top")
    down_h, down_x = _segment(s, "top", "impact")
    if not (np.isfinite(up_x).all() and np.isfinite(down_x).all()):
        raise Missing("the hands are hidden on part of the way")
    shoulder = s.joint("trail_shoulder", "address")[0, 1]
    reach = float(s.hands("address")[0, 1] - shoulder)
    levels = np.linspace(0.35 * reach, 0.95 * reach, LEVELS)
    up = np.interp(levels, np.maximum.accumulate(up_h), up_x)
    order = np.argsort(down_h)
    down = np.interp(levels, down_h[order], down_x[order])
    out = down - up
    widest = float(np.sort(out)[-3:].mean())
    scatter = s.extra("hand path", 0.006 * s.stature_px)
    return np.asarray(100 * (widest + scatter) / s.stature_px)


def shaft_over_address_line(s: Sampler) -> Floats:
    """Shaft against its address line in the early downswing, degrees, + = steeper.

    Mean over the frames from lead arm parallel on while the projected shaft keeps 60 % of its address
    length; near delivery the shaft points along the lens and its angle means nothing. A camera on the ball's
    side of the line makes it look flatter, one behind the golfer's back steeper: the camera's place, as far as
    the spread of the golfer's legs at address shows it, is taken out, and its doubt widens the error.
    """
    club = s.swing.club
    start, end = s.times("lead_arm_parallel_down")[0], s.times("impact")[0]
    length = np.hypot(*(club.head_xy - club.grip_xy).T)
    rest = _address_frames(s)
    keep = (club.t_s >= start - 0.6 / s.swing.fps) & (club.t_s < end) & (club.confidence >= 0.5)
    index = np.flatnonzero(keep)
    long_enough = length[index] >= LEAST_LENGTH_SHARE * np.median(length[rest])
    stop = int(np.argmin(long_enough)) if not long_enough.all() else len(index)
    index = index[:stop]
    if index.size == 0:
        raise Missing("the shaft points along the lens in the early downswing")
    address = steepness_deg(club.deg[rest], s.swing.plus_x)
    down = steepness_deg(club.deg[index], s.swing.plus_x)
    value = float(np.mean(wrap_deg(down - np.median(address))))
    straightened, se_deg = _on_the_line(s)
    return value + straightened + s.extra("shaft line", float(np.hypot(1.0, se_deg)))


def _on_the_line(s: Sampler) -> tuple[float, float]:
    """What the camera's place off the line takes from the shaft's steepness, degrees, and how surely that is known."""
    start = float(s.swing.pose.t_s[0])
    address = part_of(s.swing.pose, start, max(start, s.swing.guess["takeaway"]))
    yaw = camera_yaw(address, s.swing.view)
    if yaw.deg is None or yaw.se_deg is None:
        raise Missing("the camera stands too far off the line to tell the plane, or nobody knows how far")
    return FLATTER_PER_YAW_DEG * yaw.deg, float(
        np.hypot(FLATTER_PER_YAW_DEG * yaw.se_deg, FLATTER_SE * yaw.deg)
    )


def _address_frames(s: Sampler) -> np.ndarray:
    club = s.swing.club
    rest = (club.t_s <= s.times("takeaway")[0]) & (club.confidence >= 0.5)
    if rest.sum() < 2:
        raise Missing("the shaft is unseen at address")
    return np.asarray(rest)


def steepness_deg(deg: Floats, plus_x: float) -> Floats:
    """Angle of the shaft's line (not its direction) against the ground toward the ball, 0..180 degrees.

    90 is upright; less leans away from the ball going up, as at address.
    """
    line = np.radians(deg)
    rise = np.degrees(np.arctan2(np.sin(line), plus_x * np.cos(line)))
    return np.asarray(rise % 180)


def head_outside_hands(s: Sampler) -> Floats:
    """Clubhead against the hands at delivery, percent of height, + = outside (nearer the ball)."""
    club = s.swing.club
    when = s.times("delivery_shaft_parallel")
    keep = club.confidence >= 0.35
    if keep.sum() < 2 or np.abs(club.t_s[keep] - when[0]).min() > 2.1 / s.swing.fps:
        raise Missing("the club is unseen at delivery")
    gap = s.swing.plus_x * (club.head_xy - club.grip_xy)[keep, 0]
    return np.asarray(100 * np.interp(when, club.t_s[keep], gap) / s.stature_px)


def hands_depth_top(s: Sampler) -> Floats:
    """Hands against the trail heel at the top, percent of height, + = nearer the ball."""
    gap = s.along(s.hands("top") - s.joint("trail_heel", "address"))
    return np.asarray(100 * gap / s.stature_px)


def head_below_hands_top(s: Sampler) -> Floats:
    """Clubhead under the hands at the top, percent of height, + = head lower.

    Where the club hides behind the golfer around the top, its way is bridged by a cubic from the frames
    before and after in which it is clearly seen, with a wider error.
    """
    club, stretch = s.swing.club, s.swing.stretch
    when = s.times("top")
    keep = np.flatnonzero(club.confidence >= 0.6)
    t_s = club.t_s[keep]
    drop = 100 * (club.head_xy - club.grip_xy)[keep, 1] / s.stature_px
    if keep.size >= 2 and np.abs(t_s - when[0]).min() <= 1.6 / s.swing.fps:
        return np.asarray(np.interp(when, t_s, drop))
    before, after = t_s[t_s < when[0]], t_s[t_s > when[0]]
    if min(before.size, after.size) == 0 or after[0] - before[-1] > BRIDGE_LONGEST_S * stretch:
        raise Missing("the club is hidden around the top")
    side_s = BRIDGE_SIDE_S * stretch
    near = (t_s >= before[-1] - side_s) & (t_s <= after[0] + side_s)
    if min((near & (t_s < when[0])).sum(), (near & (t_s > when[0])).sum()) < 2:
        raise Missing("the club is hidden around the top")
    cubic = np.polynomial.Polynomial.fit(t_s[near], drop[near], 3)
    return np.asarray(cubic(when) + s.extra("bridge", BRIDGE_SD))
