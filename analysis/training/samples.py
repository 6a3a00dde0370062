"""Training samples: three frames of one square crop of a random golfer, and what is known of them."""

from __future__ import annotations

import numpy as np

from analysis.training.backdrops import backdrop, line
from analysis.training.body import BODIES, load_body, random_mix
from analysis.training.clothes import Dressed, dress
from analysis.training.clubs import CLUBS
from analysis.training.exposure import Actor, Exposed, Shutter, expose
from analysis.training.labels import RENDER_SIDE, SHAFT_SHARES, label_row
from analysis.training.light import Light
from analysis.training.meshes import Mesh
from analysis.training.parameters import FAULTS, SwingParameters
from analysis.training.phone import Phone, grey, whole
from analysis.training.pose import Pose
from analysis.training.renderer import Paint, Renderer
from analysis.training.rotations import about_z
from analysis.training.set_pieces import Clutter, put_ball, put_ground, random_colour
from analysis.training.swing import Swing
from analysis.training.truth import in_sight, rolled
from analysis.training.views import CroppedView, random_view
from analysis.training.wardrobe import random_clothes, random_club, random_light
from analysis.types import DOWN_THE_LINE, Floats

SAMPLES_A_SWING, SAMPLES_A_SCENE = 60, 4
JITTER = 1.0
BACK_MARGIN = 32
# Golfers of one process: the three whole bodies, and so many mixed ones.
MIXED = 17


class SampleMaker:
    """Makes samples; one instance belongs to one process and one graphics device.

    Parameters
    ----------
    seed : int
    device : int
        Which graphics card.
    """

    def __init__(self, seed: int, device: int = 0) -> None:
        self._draw = np.random.default_rng(seed)
        self._bodies = (*BODIES, *(random_mix(self._draw) for _ in range(MIXED)))
        self._dressed: dict[str, Dressed] = {}
        self._renderer = Renderer(RENDER_SIDE, RENDER_SIDE, device)
        self._swing: Swing | None = None
        self._other: Swing | None = None
        self._left = 0

    def sample(self) -> tuple[np.ndarray, np.ndarray]:
        """Pictures (5, 256, 256) uint8 and a row of labels (40,) float32."""
        swing = self._next_swing()
        draw = self._draw
        dressed = self._clothes(swing.p.body)
        club = random_club(swing.p.club_length, draw) if draw.random() > 0.03 else None
        self._renderer.clear(self._renderer.club)
        actor = Actor(swing, dressed, *random_clothes(dressed, draw), club)
        light = random_light(float(swing.ball[1]), draw)
        t_s, gap = _moment(swing, draw), float(np.exp(draw.uniform(np.log(1 / 240), np.log(1 / 24))))
        shutter = _shutter(gap, draw)
        view = random_view(swing.body.height, t_s + shutter.span_s / 2, draw)
        pictures, exposed = self._three(actor, light, view, shutter, t_s, gap)
        return pictures, self._labels(actor, view, shutter, t_s, gap, exposed)

    def _next_swing(self) -> Swing:
        if self._swing is None or self._left <= 0:
            self._other, self._swing, self._left = self._swing, self._new_swing(), SAMPLES_A_SWING
        if self._left % SAMPLES_A_SCENE == 0:
            self._set_scene(self._swing)
        self._left -= 1
        return self._swing

    def _new_swing(self) -> Swing:
        draw = self._draw
        p = SwingParameters(
            body=self._bodies[draw.integers(len(self._bodies))],
            club=("iron7", *CLUBS)[draw.integers(len(CLUBS) + 1)],
            fault=FAULTS[draw.integers(len(FAULTS))],
            amount=float(draw.random()),
            backswing=float(draw.uniform(0.6, 1.1)),
            downswing=float(draw.uniform(0.2, 0.36)),
            follow=float(draw.uniform(0.45, 0.8)),
            turn_scale=float(draw.uniform(0.75, 1.2)),
            club_scale=float(draw.uniform(0.9, 1.04)),
            duration=2.8,
            jitter=JITTER,
            seed=int(draw.integers(1 << 30)),
        )
        return Swing(p, load_body(p.body))

    def _clothes(self, body: str) -> Dressed:
        if body not in self._dressed:
            self._dressed[body] = dress(load_body(body))
        return self._dressed[body]

    def _set_scene(self, swing: Swing) -> None:
        """Clutter, and now and then a second golfer with a club."""
        r, draw = self._renderer, self._draw
        r.clear(r.scene)
        put_ground(r)
        put_ball(r, swing.ball + np.array([0.0, 0.0, draw.choice([0.0, 0.03])]))
        for k, (mesh, colour, material) in enumerate(Clutter(draw, swing).gather()):
            r.put(r.scene, f"piece{k}", mesh, Paint(colour, material))
        if self._other is not None and draw.random() < 0.15:
            self._put_other(self._other)

    def _put_other(self, swing: Swing) -> None:
        draw, r = self._draw, self._renderer
        dressed, pose = self._clothes(swing.p.body), swing.pose_at(float(draw.uniform(0.1, 2.7)))
        turn = about_z(draw.uniform(0, 2 * np.pi) if draw.random() < 0.4 else 0.0)
        beside = draw.random() < 0.5
        away = np.array([draw.uniform(-3, 3), draw.uniform(1.4, 4.8), 0.0])
        if beside:
            away = np.array([draw.uniform(1.6, 6), draw.uniform(-3, 2), 0.0])
        colours, materials = random_clothes(dressed, draw)
        body = Mesh(*dressed.posed(pose), dressed.faces).moved(turn, away)
        r.put(r.scene, "other", body, Paint(colours, materials, dressed.rest, dressed.cut))
        club = random_club(swing.p.club_length, draw)
        for name, mesh, colour, material in club.parts(pose.butt, pose.shaft, pose.lead_palm):
            r.put(r.scene, f"other_{name}", mesh.moved(turn, away), Paint(colour, material))

    def _three(
        self, actor: Actor, light: Light, view: CroppedView, shutter: Shutter, t_s: float, gap: float
    ) -> tuple[np.ndarray, Exposed]:
        """The frame in colour, its neighbours in brightness."""
        draw, phone = self._draw, Phone(self._draw)
        behind = None if light.opaque else self._behind(light)
        bars = self._bars_in_front()
        planes, middle = [], None
        for turn in (0, -1, 1):
            start = max(0.0, t_s + turn * gap)
            exposed = self._expose(actor, light, view, shutter, start, 8 if turn == 0 else 4)
            linear = self._composed(exposed, behind, view, t_s, start, bars)
            stored = phone.develop(linear, view.inside)
            if turn == 0:
                middle, colour = exposed, stored
            else:
                planes.append(grey(stored)[None])
            if turn == -1 and draw.random() < 0.10:
                # Frames blended by a converter of slow motion.
                colour = np.asarray(0.72 * colour + 0.28 * stored).astype(np.uint8)
        assert middle is not None
        return np.concatenate([colour.transpose(2, 0, 1), *planes]), middle

    def _expose(
        self, actor: Actor, light: Light, view: CroppedView, shutter: Shutter, start: float, steps: int
    ) -> Exposed:
        middle = start + shutter.span_s / 2
        return expose(
            self._renderer,
            actor,
            start,
            shutter,
            view.matrix(middle),
            light,
            lambda points: view.project(middle, points),
            steps,
        )

    def _behind(self, light: Light) -> np.ndarray:
        bright = 0.35 + 0.24 * np.mean(light.sun_colour) + 0.3 * np.mean(light.sky)
        picture = backdrop(RENDER_SIDE + BACK_MARGIN, self._draw)
        return picture * np.float32(bright * self._draw.uniform(0.5, 1.4))

    def _bars_in_front(self) -> list[tuple[Floats, Floats, Floats]]:
        """Now and then thin lines between camera and golfer."""
        draw = self._draw
        bars = []
        for _ in range(draw.integers(1, 6) if draw.random() < 0.09 else 0):
            middle, turn = draw.uniform(0, RENDER_SIDE, 2), draw.uniform(0, np.pi)
            half = 700 * np.array([np.cos(turn), np.sin(turn)])
            bars.append((middle - half, middle + half, random_colour(draw)))
        return bars

    def _composed(
        self,
        exposed: Exposed,
        behind: np.ndarray | None,
        view: CroppedView,
        t_s: float,
        start: float,
        bars: list[tuple[Floats, Floats, Floats]],
    ) -> np.ndarray:
        import cv2

        linear = exposed.picture[..., :3]
        if behind is not None:
            hip = np.array([[0.02, 0.02, 1.05]])
            moved = (view.project(start, hip) - view.project(t_s, hip))[0, :2] - BACK_MARGIN / 2
            shift = np.array([[1, 0, moved[0]], [0, 1, moved[1]]], np.float32)
            size = (RENDER_SIDE, RENDER_SIDE)
            flat = cv2.warpAffine(behind, shift, size, borderMode=cv2.BORDER_REPLICATE)
            linear = linear + flat * (1 - exposed.picture[..., 3:])
        for a, b, colour in bars:
            drawn = np.ascontiguousarray(linear)
            line(cv2, drawn, a, b, tuple(float(v) for v in colour), 1)
            linear = linear * 0.4 + drawn * 0.6
        return np.asarray(linear, np.float32)

    def _labels(
        self, actor: Actor, view: CroppedView, shutter: Shutter, t_s: float, gap: float, exposed: Exposed
    ) -> np.ndarray:
        middle = t_s + shutter.span_s / 2
        swing = actor.swing
        at = view.project(middle, _points(exposed.pose))
        if shutter.readout_s > 0:
            times = [t_s + shutter.open_s / 2 + q * shutter.readout_s for q in (0.0, 0.5, 1.0)]
            shown = rolled(np.array([view.project(t, _points(swing.pose_at(t))) for t in times]), RENDER_SIDE)
        else:
            shown = at
        slack = np.concatenate([[0.10, 0.10, 0.10], np.full(len(SHAFT_SHARES), 0.06)])
        left, top, right, bottom = view.inside
        framed = (shown[:, 0] >= left) & (shown[:, 0] < right) & (shown[:, 1] >= top) & (shown[:, 1] < bottom)
        seen = in_sight(at, exposed.depth, slack) & framed & (actor.club is not None)
        seen[0] = (in_sight(at, exposed.depth, slack) & framed)[0]
        facts = {
            "down_the_line": float(view.camera.view == DOWN_THE_LINE),
            "s_from_impact": t_s - swing.clock.impact,
            "stature_px": view.stature / view.side * 256,
            "blur_px": exposed.blur_px * 256 / RENDER_SIDE,
            "gap_s": gap,
            "has_club": float(actor.club is not None),
        }
        return label_row(whole(shown[:, :2]), seen, facts)


def _points(pose: Pose) -> Floats:
    """Grip, head, butt, and the points along the shaft (27, 3)."""
    along = pose.butt + (pose.head - pose.butt) * SHAFT_SHARES[:, None]
    return np.concatenate([[pose.grip, pose.head, pose.butt], along])


def _moment(swing: Swing, draw: np.random.Generator) -> float:
    """A time of the swing; the downswing and impact are drawn most often for their length."""
    c, kind = swing.clock, draw.random()
    if kind < 0.25:
        return float(draw.uniform(0.1, c.impact + 0.7))
    if kind < 0.40:
        return float(draw.uniform(c.address, c.top))
    if kind < 0.52:
        return float(c.top + draw.normal() * 0.1)
    if kind < 0.77:
        return float(draw.uniform(c.top, c.impact))
    if kind < 0.87:
        return float(c.impact + draw.normal() * 0.035)
    return float(draw.uniform(c.impact, c.impact + 0.55))


def _shutter(gap: float, draw: np.random.Generator) -> Shutter:
    low, high = (1 / 2000, 1 / 60) if draw.random() < 0.9 else (1 / 60, 1 / 30)
    open_s = min(float(np.exp(draw.uniform(np.log(low), np.log(high)))), gap * 0.95)
    return Shutter(open_s, float(draw.uniform(0.003, 0.02)) if draw.random() < 0.4 else 0.0)
