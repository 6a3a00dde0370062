"""Triangle meshes: tubes, boxes, spheres, and Loop subdivision."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from analysis.training.rotations import unit
from analysis.types import Floats


@dataclass(frozen=True, slots=True)
class Mesh:
    """``vertices`` and ``normals`` (V, 3), ``faces`` (F, 3)."""

    vertices: Floats
    normals: Floats
    faces: np.ndarray

    def moved(self, rotation: Floats, shift: Floats) -> Mesh:
        """Turned, then shifted."""
        return Mesh(self.vertices @ rotation.T + shift, self.normals @ rotation.T, self.faces)


def tube(start: Floats, end: Floats, start_radius: float, end_radius: float, sides: int = 10) -> Mesh:
    """A closed round tube."""
    axis = unit(end - start)
    helper = np.array([1.0, 0, 0]) if abs(axis[0]) < 0.8 else np.array([0.0, 1, 0])
    a = unit(np.cross(axis, helper))
    b = np.cross(axis, a)
    turn = np.arange(sides) / sides * 2 * np.pi
    ring = np.cos(turn)[:, None] * a + np.sin(turn)[:, None] * b
    vertices = np.concatenate([start + start_radius * ring, end + end_radius * ring, [start, end]])
    normals = np.concatenate([ring, ring, [-axis, axis]])
    i = np.arange(sides)
    j, first, last = (i + 1) % sides, np.full(sides, 2 * sides), np.full(sides, 2 * sides + 1)
    faces = np.concatenate(
        [
            np.stack([i, j, sides + j], 1),
            np.stack([i, sides + j, sides + i], 1),
            np.stack([first, j, i], 1),
            np.stack([last, sides + i, sides + j], 1),
        ]
    )
    return Mesh(vertices, normals, faces)


def box(centre: Floats, rotation: Floats, size: Floats) -> Mesh:
    """A box with sharp edges; ``size`` (3,) along the columns of ``rotation``."""
    vertices: list[Floats] = []
    normals: list[Floats] = []
    faces: list[list[int]] = []
    for axis in range(3):
        u, v = (axis + 1) % 3, (axis + 2) % 3
        for sign in (-1.0, 1.0):
            first = len(vertices)
            for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
                corner = np.zeros(3)
                corner[axis], corner[u], corner[v] = sign, a, b
                vertices.append(centre + rotation @ (corner * size / 2))
                normals.append(rotation[:, axis] * sign)
            order = (0, 1, 2, 0, 2, 3) if sign > 0 else (0, 2, 1, 0, 3, 2)
            faces += [[first + k for k in order[:3]], [first + k for k in order[3:]]]
    return Mesh(np.array(vertices), np.array(normals), np.array(faces))


def sphere(centre: Floats, radius: float, rings: int = 12) -> Mesh:
    """A sphere of ``rings`` by ``2 * rings`` points."""
    polar, around = np.meshgrid(np.linspace(0, np.pi, rings), np.linspace(0, 2 * np.pi, 2 * rings))
    normals = np.stack(
        [np.sin(polar) * np.cos(around), np.sin(polar) * np.sin(around), np.cos(polar)], -1
    ).reshape(-1, 3)
    a = (np.arange(2 * rings - 1)[:, None] * rings + np.arange(rings - 1)).ravel()
    faces = np.concatenate(
        [np.stack([a, a + 1, a + rings], 1), np.stack([a + 1, a + rings + 1, a + rings], 1)]
    )
    return Mesh(centre + radius * normals, normals, faces)


def ground(half_m: float = 90.0, cells: int = 24) -> Mesh:
    """A flat ground whose cells grow with the distance from the golfer."""
    line = np.linspace(-1, 1, cells) ** 3 * half_m
    x, y = np.meshgrid(line, line)
    vertices = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], 1)
    a = (np.arange(cells - 1)[:, None] * cells + np.arange(cells - 1)).ravel()
    faces = np.concatenate(
        [np.stack([a, a + 1, a + cells + 1], 1), np.stack([a, a + cells + 1, a + cells], 1)]
    )
    return Mesh(vertices, np.tile([0.0, 0.0, 1.0], (len(vertices), 1)), faces)


@dataclass(frozen=True, slots=True)
class Refinement:
    """One Loop subdivision: new values are weighted sums of old ones, and the new faces."""

    rows: np.ndarray
    columns: np.ndarray
    weights: Floats
    count: int
    faces: np.ndarray

    def apply(self, values: Floats) -> Floats:
        """Values (V, ...) at the old vertices to values at the new ones."""
        out = np.zeros((self.count, *values.shape[1:]))
        shape = (-1, *[1] * (values.ndim - 1))
        np.add.at(out, self.rows, self.weights.reshape(shape) * values[self.columns])
        return out


def loop_subdivision(faces: np.ndarray, count: int) -> Refinement:
    """Loop's scheme (Loop 1987) for ``count`` vertices: each triangle becomes four."""
    opposite: dict[tuple[int, int], list[int]] = defaultdict(list)
    for a, b, c in faces.tolist():
        for x, y, z in ((a, b, c), (b, c, a), (c, a, b)):
            opposite[(min(x, y), max(x, y))].append(z)
    number = {edge: count + i for i, edge in enumerate(opposite)}
    entries = _even_points(opposite, count) + _odd_points(opposite, number)
    rows, columns, weights = (np.array(x) for x in zip(*entries, strict=True))
    new = []
    for a, b, c in faces.tolist():
        ab, bc, ca = (number[(min(e), max(e))] for e in ((a, b), (b, c), (c, a)))
        new += [(a, ab, ca), (b, bc, ab), (c, ca, bc), (ab, bc, ca)]
    return Refinement(rows, columns, weights, count + len(number), np.array(new))


_Entry = tuple[int, int, float]


def _even_points(opposite: dict[tuple[int, int], list[int]], count: int) -> list[_Entry]:
    around: list[set[int]] = [set() for _ in range(count)]
    border: list[set[int]] = [set() for _ in range(count)]
    for (a, b), thirds in opposite.items():
        for x, y in ((a, b), (b, a)):
            around[x].add(y)
            if len(thirds) == 1:
                border[x].add(y)
    entries: list[_Entry] = []
    for v in range(count):
        ring = border[v] or around[v]
        if border[v]:
            share = 0.25 / len(ring)
        else:
            share = 3 / 16 if len(ring) == 3 else 3 / (8 * max(1, len(ring)))
        entries.append((v, v, 1 - share * len(ring)))
        entries += [(v, other, share) for other in ring]
    return entries


def _odd_points(
    opposite: dict[tuple[int, int], list[int]], number: dict[tuple[int, int], int]
) -> list[_Entry]:
    entries: list[_Entry] = []
    for edge, thirds in opposite.items():
        inner = len(thirds) == 2
        entries += [(number[edge], v, 3 / 8 if inner else 0.5) for v in edge]
        if inner:
            entries += [(number[edge], v, 1 / 8) for v in thirds]
    return entries
