"""What stands and lies around the golfer: ground, ball, bag, sticks, posts, and random clutter."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from analysis.training.meshes import Mesh, box, ground, sphere, tube
from analysis.training.renderer import Paint, Renderer
from analysis.training.rotations import about_z, unit
from analysis.training.swing import BALL_RADIUS_M, Swing
from analysis.types import Floats

BALL, SMOOTH, METAL = 8.0, 4.0, 6.0
Piece = tuple[Mesh, Floats, float]


def put_ground(renderer: Renderer) -> None:
    """The ground under everything."""
    renderer.put(renderer.scene, "ground", ground(), Paint(np.full(3, 0.1), 0.0, casts_shadow=False))


def put_ball(renderer: Renderer, place: Floats) -> None:
    """The ball at a place; call again to move it."""
    paint = None if "ball" in renderer.scene else Paint(np.full(3, 0.85), BALL)
    renderer.put(renderer.scene, "ball", sphere(place, BALL_RADIUS_M), paint)


def put_range(renderer: Renderer, swing: Swing, seed: int, stick_deg: float | None = 0.0) -> None:
    """A plain practice range: a bag with shafts, a stick on the ground unless None, two posts, the tee."""
    for k, (mesh, colour, material) in enumerate(_range_pieces(swing, seed, stick_deg)):
        renderer.put(renderer.scene, f"piece{k}", mesh, Paint(colour, material))


def _range_pieces(swing: Swing, seed: int, stick_deg: float | None) -> Iterator[Piece]:
    draw = np.random.default_rng(seed)
    foot = np.array([-1.25 + draw.normal() * 0.1, 0.95, 0.0])
    top = foot + np.array([0.12, 0.12, 0.86])
    yield tube(foot, top, 0.11, 0.13, 16), np.array([0.12, 0.12, 0.16]), SMOOTH
    for _ in range(5):
        start = top + np.array([draw.uniform(-0.07, 0.07), draw.uniform(-0.07, 0.07), -0.02])
        end = start + np.array([0.03, 0.03, draw.uniform(0.15, 0.3)])
        yield tube(start, end, 0.005, 0.005, 6), np.array([0.4, 0.4, 0.42]), METAL
        yield box(end, np.eye(3), np.array([0.07, 0.03, 0.05])), np.array([0.2, 0.2, 0.22]), METAL
    if stick_deg is not None:
        middle, turn = np.array([0.0, float(swing.ball[1]) - 0.32, 0.006]), np.radians(stick_deg)
        half = 0.6 * np.array([np.cos(turn), np.sin(turn), 0.0])
        yield tube(middle - half, middle + half, 0.005, 0.005, 6), np.array([0.75, 0.30, 0.05]), SMOOTH
    for x in (-1.9, 2.3):
        post = box(np.array([x, 1.7, 0.55]), np.eye(3), np.array([0.05, 0.05, 1.1]))
        yield post, np.array([0.35, 0.24, 0.14]), SMOOTH
    if swing.p.shape.teed:
        low = swing.ball * [1.0, 1.0, 0.0]
        tee = tube(low, swing.ball - np.array([0.0, 0.0, 0.019]), 0.0025, 0.005, 6)
        yield tee, np.array([0.8, 0.75, 0.6]), SMOOTH


def random_colour(draw: np.random.Generator) -> Floats:
    """A linear colour: dark, light, grey or saturated."""
    kind = draw.random()
    if kind < 0.25:
        return np.clip(draw.uniform(0.01, 0.08) + draw.normal(size=3) * 0.01, 0.005, 1)
    if kind < 0.45:
        return np.clip(draw.uniform(0.6, 0.92) + draw.normal(size=3) * 0.03, 0, 1)
    if kind < 0.6:
        return np.clip(draw.uniform(0.08, 0.6) + draw.normal(size=3) * 0.03, 0, 1)
    hue = draw.random() * 6
    strong = np.clip(np.abs((hue + np.array([0.0, 4.0, 2.0])) % 6 - 3) - 1, 0, 1)
    grey, value = 1 - draw.uniform(0.35, 1), draw.uniform(0.16, 0.94)
    return np.asarray((value * (grey + (1 - grey) * strong)) ** 2.2)


@dataclass(slots=True)
class Clutter:
    """Random things in space that look like shafts or hide them."""

    draw: np.random.Generator
    swing: Swing
    pieces: list[Piece] = field(default_factory=list)

    def gather(self) -> list[Piece]:
        """Bags, sticks on the ground and planted ones, posts, a rail, a wall."""
        draw = self.draw
        for _ in range(draw.integers(0, 3)):
            self._bag()
        for _ in range(draw.integers(0, 3)):
            self._ground_stick()
        for _ in range(draw.integers(0, 3) if draw.random() < 0.5 else 0):
            self._planted_stick()
        for _ in range(draw.integers(0, 4)):
            self._post()
        if draw.random() < 0.25:
            self._rail()
        if draw.random() < 0.2:
            size = np.array([draw.uniform(1, 6), 0.05, 3.0])
            place = self._far() * 1.3 + np.array([0, 0.8, 1.5])
            self._add(box(place, about_z(draw.uniform(0, 3)), size))
        return self.pieces

    def _add(self, mesh: Mesh, material: float = SMOOTH) -> None:
        self.pieces.append((mesh, random_colour(self.draw), material))

    def _far(self) -> Floats:
        draw = self.draw
        if draw.random() < 0.5:
            return np.array([draw.uniform(-3, 3), draw.uniform(0.6, 4), 0.0])
        return np.array([draw.uniform(0.8, 6), draw.uniform(-3, 2), 0.0])

    def _bag(self) -> None:
        draw, foot = self.draw, self._far()
        top = foot + np.array([draw.normal() * 0.15, draw.normal() * 0.15, 0.86])
        self._add(tube(foot, top, 0.11, 0.13, 12))
        for _ in range(draw.integers(3, 9)):
            start = top + np.array([draw.uniform(-0.08, 0.08), draw.uniform(-0.08, 0.08), -0.02])
            end = start + np.array([draw.normal() * 0.06, draw.normal() * 0.06, draw.uniform(0.1, 0.35)])
            self._add(tube(start, end, 0.005, 0.005, 5), METAL)
            self._add(box(end, np.eye(3), np.array([0.07, 0.03, 0.05])), METAL)

    def _ground_stick(self) -> None:
        draw = self.draw
        place = np.array([draw.normal() * 0.3, self.swing.ball[1] + draw.uniform(-0.5, 0.6), 0.006])
        turn = draw.normal() * 0.2 + (np.pi / 2 if draw.random() < 0.25 else 0)
        half = np.array([np.cos(turn), np.sin(turn), 0.0]) * 0.6
        self._add(tube(place - half, place + half, 0.005, 0.005, 6))

    def _planted_stick(self) -> None:
        draw = self.draw
        near = np.array([draw.uniform(-1.2, 1.2), draw.uniform(-1.4, 0.9), 0.0])
        foot = self._far() if draw.random() < 0.6 else near
        lean = unit(np.array([draw.normal() * 0.5, draw.normal() * 0.5, 1.0]))
        metal = METAL if draw.random() < 0.5 else SMOOTH
        self._add(tube(foot, foot + lean * draw.uniform(0.8, 1.3), 0.0055, 0.0055, 6), metal)

    def _post(self) -> None:
        draw = self.draw
        height, width = draw.uniform(0.6, 3), draw.uniform(0.02, 0.15)
        place = self._far() + np.array([0.0, 0.6, height / 2])
        self._add(box(place, about_z(draw.uniform(0, 3)), np.array([width, width, height])))

    def _rail(self) -> None:
        draw = self.draw
        place = self._far() + np.array([0.0, 0.8, draw.uniform(0.5, 1.3)])
        half = np.array([5.0, 0, 0]) if draw.random() < 0.5 else np.array([0, 5.0, 0])
        self._add(tube(place - half, place + half, 0.02, 0.02, 6))
