"""The mesh of a person with its skeleton: rest shape, skinning, picture landmarks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from analysis.types import Floats

BODIES = ("m_avg", "m_heavy", "f_avg")
# Other people, mixed of the three (shares in the order of BODIES) and scaled; shares may go beyond the three.
MIXED_BODIES: Mapping[str, tuple[tuple[float, float, float], float]] = {
    "m_slim": ((1.5, -0.5, 0.0), 1.0),
    "m_tall": ((1.2, -0.2, 0.0), 1.08),
    "f_heavy": ((-0.8, 0.8, 1.0), 0.98),
    "f_small": ((0.3, -0.3, 1.0), 0.93),
    "between": ((0.34, 0.33, 0.33), 0.97),
    "junior": ((0.3, -0.2, 0.9), 0.86),
}
# Any other mix is named by its numbers, "mix:0.40,0.10,0.50,0.930": shares, then the scale.
MIX = "mix:"
ASSETS = Path(__file__).parent / "assets"
FACE_GROUPS = ("body", "tights", "l_eye", "r_eye")

# Vertex weights are stored as columns: one small matrix product skins the whole mesh.
Weights = Floats


@dataclass(frozen=True, slots=True)
class Body:
    """One person at rest, soles on z = 0, arms held out; metres.

    ``rest`` and ``normals`` (V, 3); ``heads`` (B, 3) bone heads; ``labels`` B names; ``parents`` (B,);
    ``weights`` (V, B) skin weights, rows sum to one; ``faces`` triangles (F, 3) by group; ``points`` maps the
    names of 23 surface landmarks, as picture detectors mean them, to weights (V,) over the vertices.
    """

    name: str
    rest: Floats
    normals: Floats
    heads: Floats
    labels: tuple[str, ...]
    parents: np.ndarray
    weights: Weights
    faces: dict[str, np.ndarray]
    point_names: tuple[str, ...]
    point_vertices: tuple[np.ndarray, ...]
    point_weights: tuple[Floats, ...]
    index: dict[str, int]

    @property
    def height(self) -> float:
        """Standing height, m."""
        return float(self.rest[np.unique(self.faces["body"])][:, 2].max())

    def bone(self, name: str) -> Floats:
        """Rest place of a bone's head (3,)."""
        return np.asarray(self.heads[self.index[name]])

    @property
    def main_bone(self) -> np.ndarray:
        """Name of the bone that moves each vertex most (V,)."""
        return np.asarray(np.array(self.labels)[self.weights.argmax(1)])

    def skin(self, rotations: Floats, places: Floats) -> Floats:
        """Posed vertices (V, 3) for global bone rotations (B, 3, 3) and bone heads (B, 3)."""
        return skinned(self.weights, self.rest, self.heads, rotations, places)

    def landmarks(self, vertices: Floats) -> dict[str, Floats]:
        """The surface landmarks of posed vertices."""
        return {
            name: np.asarray(w @ vertices[v])
            for name, v, w in zip(self.point_names, self.point_vertices, self.point_weights, strict=True)
        }


def skinned(weights: Weights, rest: Floats, heads: Floats, rotations: Floats, places: Floats) -> Floats:
    """Linear blend skinning of rest vertices (V, 3)."""
    shifts = places - np.einsum("bij,bj->bi", rotations, heads)
    blended = weights @ np.concatenate([rotations.reshape(-1, 9), shifts], 1)
    turned = np.einsum("vij,vj->vi", blended[:, :9].reshape(-1, 3, 3), rest)
    return np.asarray(turned + blended[:, 9:])


def moved_by(main_bone: np.ndarray, prefixes: tuple[str, ...]) -> np.ndarray:
    """Which vertices (V,) have a main bone whose name begins with one of the prefixes."""
    return np.asarray(np.any([np.char.startswith(main_bone, prefix) for prefix in prefixes], axis=0))


def vertex_normals(vertices: Floats, faces: np.ndarray) -> Floats:
    """Unit normals (V, 3), each face counting by its area."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    total = np.zeros_like(vertices)
    for k in range(3):
        np.add.at(total, faces[:, k], normal)
    return np.asarray(total / (np.linalg.norm(total, axis=1, keepdims=True) + 1e-12))


@cache
def load_body(name: str) -> Body:
    """One of ``BODIES`` from the vendored file, one of ``MIXED_BODIES``, or any mix by its numbers.

    Raises
    ------
    ValueError
        If the name is unknown or its numbers are none.
    """
    if name not in BODIES:
        _mix_of(name)
    with np.load(ASSETS / "bodies.npz", allow_pickle=False) as stored:
        data = dict(stored)
    faces = {group: data[f"faces_{group}"] for group in FACE_GROUPS}
    rest, heads = _shape(data, "rest", name), _shape(data, "heads", name)
    lift = np.array([0.0, 0.0, -rest[np.unique(faces["body"])][:, 2].min()])
    rest = rest + lift
    labels = tuple(str(x) for x in data["labels"])
    weights = np.zeros((len(rest), len(labels)))
    np.add.at(weights, (np.arange(len(rest))[:, None], data["joints"].astype(int)), data["weights"])
    names = tuple(str(x) for x in data["point_names"])
    rows = [data["point_row"] == k for k in range(len(names))]
    return Body(
        name=name,
        rest=rest,
        normals=vertex_normals(rest, np.concatenate(list(faces.values()))),
        heads=heads + lift,
        labels=labels,
        parents=data["parents"].astype(int),
        weights=weights,
        faces=faces,
        point_names=names,
        point_vertices=tuple(data["point_vertex"][row].astype(int) for row in rows),
        point_weights=tuple(data["point_weight"][row].astype(float) for row in rows),
        index={label: k for k, label in enumerate(labels)},
    )


def _shape(data: Mapping[str, np.ndarray], part: str, name: str) -> Floats:
    if name in BODIES:
        return np.asarray(data[f"{part}_{name}"].astype(float))
    shares, scale = _mix_of(name)
    mixed = sum(w * data[f"{part}_{body}"].astype(float) for w, body in zip(shares, BODIES, strict=True))
    return np.asarray(mixed) * scale


def _mix_of(name: str) -> tuple[tuple[float, ...], float]:
    if name in MIXED_BODIES:
        return MIXED_BODIES[name]
    try:
        *shares, scale = (float(x) for x in name.removeprefix(MIX).split(","))
    except ValueError:
        shares, scale = [], 0.0
    if not name.startswith(MIX) or len(shares) != len(BODIES) or not 0.5 < scale < 1.5:
        raise ValueError(f"body must be one of {(*BODIES, *MIXED_BODIES)} or {MIX}a,b,c,scale, got {name!r}")
    return tuple(shares), scale


def random_mix(draw: np.random.Generator) -> str:
    """The name of a body mixed anew: shares sum to one, standing height 1.45 to 1.95 m or so."""
    shares = draw.dirichlet([0.8, 0.8, 0.8]) * 1.6 - 0.2
    shares = np.round(shares, 2)
    shares[2] = round(1 - shares[0] - shares[1], 2)
    return MIX + ",".join(f"{x:.2f}" for x in shares) + f",{draw.uniform(0.86, 1.08):.3f}"
