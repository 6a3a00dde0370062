"""One exposed frame: the golfer at three instants, the club at many, rows read out one after the other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.training.clothes import Dressed
from analysis.training.golf_club import DrawnClub
from analysis.training.light import Light
from analysis.training.meshes import Mesh
from analysis.training.pose import Pose
from analysis.training.renderer import Paint, Renderer
from analysis.training.rotations import unit
from analysis.training.swing import Swing
from analysis.types import Floats

STATES = 3
STATE_SHARES = (1 / 6, 1 / 2, 5 / 6)
PIXELS_A_STEP = 2.6
LEAST_WEIGHT = 1e-7

# World points (N, 3) to picture pixels and depth (N, 3).
Project = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True)
class Shutter:
    """How long a row is exposed, and the time from the first row's start to the last one's; seconds."""

    open_s: float
    readout_s: float = 0.0

    def __post_init__(self) -> None:
        if self.open_s <= 0 or self.readout_s < 0:
            raise ValueError(f"open_s must be positive and readout_s not negative, got {self}")

    @property
    def span_s(self) -> float:
        """From the first row's start to the last row's end."""
        return self.open_s + self.readout_s

    def row_weights(self, rows: int, instants: int) -> Floats:
        """Summed weights (rows,) that the instants' shares add up to in the shader."""
        if self.readout_s <= 0:
            return np.full(rows, float(instants))
        start = (np.arange(rows) + 0.5) / rows * self.readout_s
        when = (np.arange(instants) + 0.5) / instants * self.span_s
        half = self.span_s / instants / 2
        low = np.maximum(start[:, None], when - half)
        high = np.minimum(start[:, None] + self.open_s, when + half)
        return np.asarray((np.clip(high - low, 0, 1) / self.open_s + LEAST_WEIGHT).sum(1))


@dataclass(frozen=True, slots=True)
class Actor:
    """Who is drawn: swing, clothes with colours and materials, club (None: no club in the hands)."""

    swing: Swing
    dressed: Dressed
    colours: Floats
    materials: Floats
    club: DrawnClub | None


@dataclass(frozen=True, slots=True)
class Exposed:
    """A linear picture (H, W, 4), the scene's depth in its middle (H, W), the pose there, blur in pixels."""

    picture: np.ndarray
    depth: Floats
    pose: Pose
    blur_px: float


def expose(
    renderer: Renderer,
    actor: Actor,
    t_s: float,
    shutter: Shutter,
    camera: tuple[Floats, Floats],
    light: Light,
    project: Project,
    most_steps: int = 8,
) -> Exposed:
    """Render the frame that starts at ``t_s``.

    Parameters
    ----------
    renderer : Renderer
        Holds the still scene already.
    actor : Actor
    t_s : float
        Start of the first row.
    shutter : Shutter
    camera : tuple
        World-to-clip matrix (4, 4) and the eye (3,).
    light : Light
    project : callable
        World points to picture pixels.
    most_steps : int
        Most club instants for each of the three instants of the body.
    """
    poses = [actor.swing.pose_at(t_s + shutter.span_s * share) for share in STATE_SHARES]
    ends = [project(np.array([p.head, p.lead_grip]))[:, :2] for p in poses]
    head_px, hand_px = (float(np.hypot(*(ends[2][k] - ends[0][k]))) * 1.5 for k in (0, 1))
    steps = int(np.clip(np.ceil(head_px / STATES / PIXELS_A_STEP), 1, most_steps))
    several = hand_px > 4
    renderer.begin_exposure()
    depth = np.zeros((renderer.height, renderer.width))
    for state in range(STATES):
        if state == 0 or several:
            _put_body(renderer, actor, poses[state] if several else poses[1])
            _put_club(renderer, actor, poses, STATE_SHARES[state] if several else 0.5)
        renderer.draw_scene(*camera, light, _clip_shift(renderer, _dither(state)))
        if state == 1:
            depth = renderer.depth()
        for step in range(steps):
            share = (state + (step + 0.5) / steps) / STATES
            _put_club(renderer, actor, poses, share)
            half = shutter.span_s / steps / STATES / 2 if shutter.readout_s > 0 else 0.0
            shift = _clip_shift(renderer, _dither(step, state))
            renderer.expose(shift, share * shutter.span_s, half, shutter.open_s, shutter.readout_s)
    weights = shutter.row_weights(renderer.height, STATES * steps)
    return Exposed(renderer.picture() / weights[:, None, None], depth, poses[1], head_px)


def _dither(k: int, other: int = 0) -> tuple[float, float]:
    """Low-discrepancy shifts in pixels, so that several instants smooth the edges."""
    return (k * 0.7549 + other * 0.31 + 0.31) % 1 - 0.5, (k * 0.5698 + other * 0.57 + 0.17) % 1 - 0.5


def _clip_shift(renderer: Renderer, pixels: tuple[float, float]) -> tuple[float, float]:
    return pixels[0] * 2 / renderer.width, pixels[1] * 2 / renderer.height


def _put_body(renderer: Renderer, actor: Actor, pose: Pose) -> None:
    dressed = actor.dressed
    vertices, normals = dressed.posed(pose)
    paint = Paint(actor.colours, actor.materials, dressed.rest, dressed.cut)
    renderer.put(renderer.scene, "golfer", Mesh(vertices, normals, dressed.faces), paint)


def _put_club(renderer: Renderer, actor: Actor, poses: list[Pose], share: float) -> None:
    if actor.club is None:
        renderer.clear(renderer.club)
        return
    lines = np.array([[p.butt, p.shaft, p.lead_palm] for p in poses])
    x = (share - 0.5) * 3
    # The parabola through the three poses, in butt, direction and palm.
    bent = (lines[2] + lines[0] - 2 * lines[1]) / 2
    butt, shaft, palm = lines[1] + x * (lines[2] - lines[0]) / 2 + x * x * bent
    for name, mesh, colour, material in actor.club.parts(butt, unit(shaft), palm):
        known = name in renderer.club
        renderer.put(renderer.club, name, mesh, None if known else Paint(colour, material))
