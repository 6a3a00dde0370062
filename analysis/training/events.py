"""The true event times of a rendered swing, from its geometry every two milliseconds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.training.swing import Swing
from analysis.types import Floats

STEP_S = 0.002
MEANING = {
    "address": "last still instant, at the latest one frame before takeaway; clubhead slower than 0.05 m/s",
    "takeaway": "clubhead speed rises over 0.10 m/s and stays over it until well into the backswing",
    "shaft_parallel_back": "club shaft level in the backswing",
    "lead_arm_parallel_back": "lead forearm level in the backswing",
    "top": "in-plane shaft angle reverses",
    "lead_arm_parallel_down": "lead forearm level in the downswing",
    "delivery_shaft_parallel": "club shaft level before impact",
    "impact": "clubhead reaches the ball along x",
    "shaft_parallel_through": "shaft level after impact",
    "finish": "clubhead slower than 0.25 m/s after the follow-through",
}


@dataclass(frozen=True, slots=True)
class Motion:
    """Club and lead forearm over time: ``t_s`` (N,), unit vectors and places (N, 3), speed m/s (N,)."""

    t_s: Floats
    shaft: Floats
    forearm: Floats
    head: Floats
    grip: Floats
    speed: Floats


def motion_of(swing: Swing) -> Motion:
    """Sample the swing."""
    t_s = np.arange(0, swing.t_s[-1] + 1e-9, STEP_S)
    poses = [swing.pose_at(float(t), False) for t in t_s]
    head = np.array([p.head for p in poses])
    speed = np.linalg.norm(np.gradient(head, t_s, axis=0), axis=1)
    return Motion(
        t_s,
        np.array([p.shaft for p in poses]),
        np.array([p.lead_forearm for p in poses]),
        head,
        np.array([p.grip for p in poses]),
        speed,
    )


def true_events(swing: Swing, motion: Motion) -> dict[str, float | None]:
    """Seconds of the events, ``None`` where an event does not happen (``MEANING`` defines them)."""
    c, t = swing.clock, motion.t_s
    shaft_up, arm_up = motion.shaft[:, 2], motion.forearm[:, 2]
    early = (t < c.back(0.4)) & (motion.speed <= 0.10)
    takeaway = float(t[np.flatnonzero(early)[-1] + 1])
    still = float(t[np.flatnonzero((t <= takeaway) & (motion.speed < 0.05))[-1]])
    top = _top(swing, motion)
    late = np.flatnonzero((t > c.impact + 0.2) & (motion.speed < 0.25))
    return {
        "address": min(still, takeaway - 1 / swing.p.fps),
        "takeaway": takeaway,
        "shaft_parallel_back": _level(t, shaft_up, c.address, top),
        "lead_arm_parallel_back": _level(t, arm_up, c.address, top),
        "top": top,
        "lead_arm_parallel_down": _level(t, arm_up, top, c.impact),
        "delivery_shaft_parallel": _level(t, shaft_up, top, c.impact, last=True),
        "impact": _impact(swing, motion),
        "shaft_parallel_through": _level(t, shaft_up, c.impact + 0.005, c.finish),
        "finish": float(t[late[0]]) if late.size else c.finish,
    }


def _top(swing: Swing, motion: Motion) -> float:
    angle = swing.plane_angle_deg(motion.t_s)
    near = (motion.t_s > swing.clock.top - 0.3) & (motion.t_s < swing.clock.top + 0.15)
    return float(motion.t_s[int(np.argmax(np.where(near, angle, -np.inf)))])


def _level(t: Floats, height: Floats, start: float, end: float, last: bool = False) -> float | None:
    change = np.sign(height[:-1]) != np.sign(height[1:])
    found = np.flatnonzero((t[:-1] >= start) & (t[1:] <= end) & change)
    if not found.size:
        return None
    k = found[-1 if last else 0]
    return float(t[k] + (t[k + 1] - t[k]) * height[k] / (height[k] - height[k + 1]))


def _impact(swing: Swing, motion: Motion) -> float:
    planned = swing.clock.impact
    short = motion.head[:, 0] - swing.contact[0]
    when = _level(motion.t_s, short, planned - 0.04, planned + 0.03) or planned
    for _ in range(3):
        a, b = (float(swing.pose_at(when + d, False).head[0]) for d in (-5e-4, 5e-4))
        when -= ((a + b) / 2 - float(swing.contact[0])) / (b - a) * 1e-3
    return when
