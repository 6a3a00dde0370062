"""The truth beside a rendered clip: picture places, visibility and figures of every frame."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from analysis.training import events, figures
from analysis.training.camera import Camera
from analysis.training.exposure import Exposed, Shutter
from analysis.training.landmarks import landmarks, mirrored
from analysis.training.pose import Pose
from analysis.training.swing import Swing
from analysis.types import Floats

# A point counts as seen when nothing lies in front of it by more than this, m: joints lie inside the body.
_DEPTHS = {
    "shoulder": 0.14,
    "elbow": 0.09,
    "hip": 0.19,
    "knee": 0.10,
    "ankle": 0.10,
    "nose": 0.05,
    "eye": 0.05,
    "ear": 0.06,
}
_DEPTH_ELSE = 0.12
SHAFT_SHARES = np.linspace(0.30, 0.97, 24)
SHAFT_DEPTH = 0.06


def rolled(at_rows: Floats, height: int) -> Floats:
    """Picture places under a rolling shutter.

    Parameters
    ----------
    at_rows : ndarray of shape (3, N, 2 or 3)
        Where the points are when the first, the middle and the last row are exposed.
    height : int
        Rows of the picture.

    Returns
    -------
    ndarray of shape (N, 2 or 3)
        Each point where its own row sees it.
    """
    place = at_rows[1].copy()
    which = np.arange(place.shape[0])
    for _ in range(4):
        q = np.clip(place[:, 1] / height, 0, 1) * 2
        first = np.minimum(q.astype(int), 1)
        share = (q - first)[:, None]
        place = at_rows[first, which] * (1 - share) + at_rows[first + 1, which] * share
    return np.asarray(place)


def in_sight(points: Floats, depth: Floats, slack: Floats | float) -> np.ndarray:
    """Which pixel places with depth (N, 3) lie in the picture with nothing in front (N,)."""
    height, width = depth.shape
    inside = (points[:, 0] >= 0) & (points[:, 0] < width) & (points[:, 1] >= 0) & (points[:, 1] < height)
    x, y = (np.clip(points[:, k], 0, n - 1).astype(int) for k, n in ((0, width), (1, height)))
    return np.asarray(inside & (depth[y, x] > points[:, 2] - slack))


class TruthWriter:
    """Collects the truth of one clip."""

    def __init__(self, swing: Swing, camera: Camera, shutter: Shutter, left: bool) -> None:
        self.swing, self.camera, self.shutter, self.left = swing, camera, shutter, left
        motion = events.motion_of(self.swing)
        self._events = events.true_events(self.swing, motion)
        self._reference = figures.address_reference(self.swing, motion, self._events)
        self._names = list(landmarks(self.swing.body, self.swing.pose_at(0.0)))

    def _world(self, pose: Pose, t_s: float) -> Floats:
        places = landmarks(self.swing.body, pose)
        return np.array([*(places[n] for n in self._names), pose.butt, pose.head, self.swing.ball_at(t_s)])

    def frame(self, start_s: float, exposed: Exposed) -> dict[str, Any]:
        """Truth of the frame whose first row starts at ``start_s``."""
        s, cam = self.shutter, self.camera
        t = start_s + s.span_s / 2
        pose = exposed.pose
        world = self._world(pose, t)
        pixels = cam.project(t, world)
        if s.readout_s > 0:
            times = [start_s + s.open_s / 2 + q * s.readout_s for q in (0.0, 0.5, 1.0)]
            rows = [cam.project(q, self._world(self.swing.pose_at(q), q)) for q in times]
            pixels = rolled(np.array(rows), cam.height)
        slack = np.array([_slack(n) for n in self._names])
        count = len(self._names)
        seen = in_sight(pixels[:count], exposed.depth, slack)
        shaft = pose.butt + (pose.head - pose.butt) * SHAFT_SHARES[:, None]
        shaft_seen = in_sight(cam.project(t, shaft), exposed.depth, SHAFT_DEPTH)
        values = figures.figures(self.swing, pose, self._reference, t)
        values["trunk_lean_picture"] = self._trunk_lean(pixels)
        flat = pixels[:, :2] * [-1, 1] + [cam.width - 1, 0] if self.left else pixels[:, :2]
        return {
            "t": round(t, 5),
            "j2d": np.round(flat[:count], 1).tolist(),
            "j3d": np.round(world[:count], 4).tolist(),
            "vis": seen.astype(int).tolist(),
            "club2d": np.round(flat[count : count + 2], 1).tolist(),
            "club3d": np.round(world[count : count + 2], 4).tolist(),
            "shaft_visible": round(float(shaft_seen.mean()), 2),
            "ball2d": np.round(flat[-1], 1).tolist(),
            "metrics": {k: None if v is None else round(v, 3) for k, v in values.items()},
        }

    def _trunk_lean(self, pixels: Floats) -> float:
        at = {
            n: pixels[self._names.index(n)]
            for n in ("left_shoulder", "right_shoulder", "left_hip", "right_hip")
        }
        line = at["left_shoulder"] + at["right_shoulder"] - at["left_hip"] - at["right_hip"]
        return math.degrees(math.atan2(line[0], -line[1]))

    def meta(self, name: str, fps: float, extra: dict[str, Any]) -> dict[str, Any]:
        """What holds for the whole clip."""
        p, cam = self.swing.p, self.camera
        matrix, _ = cam.world_to_camera(0.0)
        return {
            "name": name,
            "fps": fps,
            "width": cam.width,
            "height": cam.height,
            "view": cam.view,
            "handedness": "left" if self.left else "right",
            "fault": p.fault,
            "amount": p.amount,
            "body": p.body,
            "shutter_s": self.shutter.open_s,
            "readout_s": self.shutter.readout_s,
            "body_height_m": round(self.swing.body.height, 4),
            "club": p.club,
            "club_length_m": p.club_length,
            "conventions": {**events.MEANING, **figures.MEANING},
            "events": {k: None if v is None else round(v, 4) for k, v in self._events.items()},
            "camera": {
                "vfov_deg": cam.fov_deg,
                "dist": cam.distance,
                "height": cam.stand_height,
                "yaw_off": cam.yaw_deg,
                "view_matrix_t0": np.round(matrix, 5).tolist(),
                "proj": np.round(cam.projection(), 5).tolist(),
            },
            "world": "z up, +x target, golfer faces -y, metres; a left-hander is the mirrored picture",
            "ball": np.round(self.swing.ball, 4).tolist(),
            "joints": mirrored(self._names) if self.left else self._names,
            **extra,
        }


def _slack(name: str) -> float:
    return next((depth for part, depth in _DEPTHS.items() if name.endswith(part)), _DEPTH_ELSE)
