"""A right-hander's swing through time: poses at any instant, and a clubhead that meets the ball."""

from __future__ import annotations

import math

import numpy as np

from analysis.training.body import Body, load_body
from analysis.training.keys import swing_keys
from analysis.training.least_squares import bounded_least_squares
from analysis.training.parameters import Clock, SwingParameters
from analysis.training.pose import Pose
from analysis.training.posing import Poser
from analysis.training.rotations import unit
from analysis.training.tracks import RATE_HZ, dense, gaussian
from analysis.types import Floats

BALL_RADIUS_M = 0.0214
ADDRESS_SOLE_M = 0.022
LOWEST_HEAD_M = 0.010
# What may be changed around impact to meet the ball, with its usual size: pelvis x and y (m), then tracks.
_IMPACT_TRACKS = ("thorax_tilt", "arm_angle", "arm_plane", "hinge", "club_plane", "pelvis_height")
_IMPACT_SIZES = np.array([0.005, 0.005, 1.2, 4.0, 5.0, 6.0, 3.0, 0.010])
_IMPACT_STEPS = np.array([0.004, 0.004, 0.5, 0.5, 0.5, 0.5, 0.5, 0.004])


class Swing:
    """Poses of one swing; building one takes about a second.

    Parameters
    ----------
    p : SwingParameters
    body : Body, optional
        Default: the vendored body ``p.body``.

    Attributes
    ----------
    ball : ndarray of shape (3,)
        Centre of the resting ball, m.
    contact : ndarray of shape (3,)
        Where the shaft's end is when the face meets the ball.
    miss_m : float
        Distance of the clubhead from there at impact.
    """

    def __init__(self, p: SwingParameters, body: Body | None = None) -> None:
        self.p, self.body, self.clock = p, body or load_body(p.body), Clock.of(p)
        self._poser = Poser(self.body, p)
        self.t_s = np.arange(int(p.duration * RATE_HZ) + 1) / RATE_HZ
        self._tracks = {name: dense(keys, self.t_s) for name, keys in swing_keys(p).items()}
        self._breathe()
        self._shift = np.zeros((len(self.t_s), 3))
        self._rest_the_sole()
        self._place_ball()
        self.miss_m = self._meet_ball()

    def pose_at(self, t_s: float, full: bool = True) -> Pose:
        """The pose at a time; times outside the swing give its first or last pose.

        Parameters
        ----------
        t_s : float
            Seconds from the start.
        full : bool
            With fingers and toes.
        """
        at = float(np.clip(t_s * RATE_HZ, 0, len(self.t_s) - 1))
        low = min(int(at), len(self.t_s) - 2)
        w = at - low
        values = {name: float(x[low] * (1 - w) + x[low + 1] * w) for name, x in self._tracks.items()}
        return self._poser.pose(values, self._shift[low] * (1 - w) + self._shift[low + 1] * w, full)

    def plane_angle_deg(self, t_s: Floats) -> Floats:
        """In-plane angle of the shaft at times (N,): 0 = down the plane, + = away from the target."""
        angle = self._tracks["arm_angle"] + self._tracks["hinge"]
        return np.interp(t_s, self.t_s, angle)

    def ball_at(self, t_s: float) -> Floats:
        """Centre of the ball: at rest until impact, then on a plain arc (62 or 48 m/s, no air)."""
        after = t_s - self.clock.impact
        if after <= 0:
            return np.asarray(self.ball)
        forward, up = (62.0, 13.0) if self.p.club == "driver" else (48.0, 15.0)
        away = np.array([forward * after, 0.0, up * after - 4.9 * after * after])
        return np.asarray(self.ball + away)

    def _breathe(self) -> None:
        """Slow sway, so that the address is not frozen."""
        draw = np.random.default_rng(self.p.seed)
        for name in self._tracks:
            if name in ("pelvis_x", "pelvis_y"):
                self._tracks[name] += 0.0015 * np.sin(2 * np.pi * (0.6 * self.t_s + draw.random()))
            if name in ("head_yaw", "hinge"):
                self._tracks[name] += 0.25 * np.sin(2 * np.pi * (0.8 * self.t_s + draw.random()))

    def _rest_the_sole(self) -> None:
        """Tilt the thorax until the sole rests on the ground at address; fading out after impact."""
        c = self.clock
        fade = np.interp(self.t_s, [0, c.impact, c.impact + 0.7 * self.p.follow], [1, 1, 0.15])
        base, tilt = self._tracks["thorax_tilt"].copy(), 0.0
        for _ in range(8):
            height, higher = (self._head_height(base + (tilt + d) * fade) for d in (0.0, 1.0))
            slope = min(-1e-3, higher - height)
            tilt = float(np.clip(tilt + (ADDRESS_SOLE_M - height) / slope, -25, 25))
        self._tracks["thorax_tilt"] = base + tilt * fade

    def _head_height(self, thorax_tilt: Floats) -> float:
        self._tracks["thorax_tilt"] = thorax_tilt
        return float(self.pose_at(self.clock.address - 0.1, False).head[2])

    def _place_ball(self) -> None:
        club = self.p.shape
        pose = self.pose_at(self.clock.address - 0.1)
        toe = unit(club_axes(pose)[:, 0] * [1.0, 1.0, 0.0]) * club.toe
        self.ball = np.array(
            [pose.head[0] + club.face + 0.002, pose.head[1] + toe[1], BALL_RADIUS_M + club.tee]
        )
        self.contact = np.array([self.ball[0] - club.face, self.ball[1] - toe[1], club.sole])

    def _meet_ball(self) -> float:
        """Smallest change around impact that puts the head on the ball at the wanted lean; returns the miss.

        The head is then lifted where it would dig into the ground, and meets the ball once more.
        """
        impact = self.clock.impact
        width = np.where(self.t_s < impact, 0.10, 0.14)
        bump = np.exp(-0.5 * ((self.t_s - impact) / width) ** 2)
        base = {name: self._tracks[name].copy() for name in _IMPACT_TRACKS}
        shift = self._shift.copy()
        early = self.p.faults.early_release
        lean = self.p.shape.lean * (1 - early) - 5.0 * early

        def apply(x: Floats) -> Floats:
            self._shift = shift + bump[:, None] * np.array([x[0], x[1], 0.0])
            for name, change in zip(_IMPACT_TRACKS, x[2:], strict=True):
                self._tracks[name] = base[name] + bump * change
            pose = self.pose_at(impact, False)
            return np.append(pose.head - self.contact, (shaft_lean_deg(pose) - lean) * 0.01)

        def residual(x: Floats) -> Floats:
            return np.append(apply(x) / 0.0003, 0.03 * x / _IMPACT_SIZES)

        limit = 7 * _IMPACT_SIZES
        x = bounded_least_squares(residual, np.zeros(8), _IMPACT_STEPS, -limit, limit, _IMPACT_SIZES)
        apply(x)
        shift[:, 2] += self._lift(impact)
        x = bounded_least_squares(residual, x, _IMPACT_STEPS, -limit, limit, _IMPACT_SIZES)
        return float(np.linalg.norm(apply(x)[:3]))

    def _lift(self, impact: float) -> Floats:
        lift = np.zeros(len(self.t_s))
        around = int(impact * RATE_HZ)
        for i in range(around - 60, around + 90, 3):
            lift[i : i + 3] = max(0.0, LOWEST_HEAD_M - float(self.pose_at(self.t_s[i], False).head[2]))
        return gaussian(lift, 10)


def shaft_lean_deg(pose: Pose) -> float:
    """Shaft from the vertical in the face-on plane, degrees, + = hands nearer the target than the head."""
    return math.degrees(math.atan2(-pose.shaft[0], -pose.shaft[2]))


def club_axes(pose: Pose) -> Floats:
    """Frame (3, 3) of the clubhead: toe, face normal (to the target at impact), up the shaft."""
    up = -pose.shaft
    face = -pose.lead_palm
    normal = unit(face - up * (face @ up))
    return np.stack([np.cross(normal, up), normal, up], 1)
