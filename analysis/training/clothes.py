"""A dressed golfer: skin, shirt, trousers, shoes and cap over one body, recoloured at will."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.training.body import Body, moved_by, vertex_normals
from analysis.training.limbs import SIDES
from analysis.training.looks import Look
from analysis.training.meshes import loop_subdivision
from analysis.training.pose import Pose
from analysis.training.rotations import unit
from analysis.types import Floats

SKIN, SHIRT, STRIPED, TROUSERS, SMOOTH, FELT = 1.0, 2.0, 2.5, 3.0, 4.0, 5.0
_ARM_BONES = ("upperarm", "lowerarm", "wrist", "finger", "metacarpal")
_LEG_BONES = ("upperleg", "lowerleg", "foot", "toe", "pelvis", "root")
_TRUNK_BONES = ("spine", "clavicle", "shoulder", "root", "pelvis", "upperarm")
Labels = np.ndarray


@dataclass(frozen=True, slots=True)
class _Part:
    weights: Floats
    rest: Floats
    faces: np.ndarray
    labels: Labels
    material: float
    cut: Floats


@dataclass(frozen=True, slots=True)
class Dressed:
    """The golfer's render mesh at rest.

    ``weights`` (V, B), ``rest`` and ``normals`` (V, 3), ``faces`` (F, 3), ``material`` (V,), ``cut`` (V,):
    negative is not drawn, ``labels`` (V,) what each vertex is: skin, eye, pupil, brow, shade, lip, hair,
    glove, shirt, trousers, shoe, sole or cap.
    """

    body: Body
    weights: Floats
    rest: Floats
    normals: Floats
    faces: np.ndarray
    material: Floats
    cut: Floats
    labels: Labels

    def posed(self, pose: Pose) -> tuple[Floats, Floats]:
        """Vertices and normals (V, 3) of a pose."""
        shifts = pose.places - np.einsum("bij,bj->bi", pose.rotations, self.body.heads)
        blended = self.weights @ np.concatenate([pose.rotations.reshape(-1, 9), shifts], 1)
        turn = blended[:, :9].reshape(-1, 3, 3)
        vertices = np.einsum("vij,vj->vi", turn, self.rest) + blended[:, 9:]
        return np.asarray(vertices), np.asarray(np.einsum("vij,vj->vi", turn, self.normals))

    def colours(self, look: Look) -> Floats:
        """Vertex colours (V, 3) of a look."""
        skin, hair = np.array(look.skin), np.array(look.hair)
        light_shoe = sum(look.shoe) >= 1
        paint = {
            "skin": skin,
            "shade": skin * 0.72,
            "lip": skin * [0.85, 0.55, 0.55],
            "brow": hair * 1.3 + 0.02,
            "hair": hair,
            "eye": np.full(3, 0.8),
            "pupil": np.array([0.10, 0.06, 0.03]),
            "glove": np.array(look.glove),
            "shirt": np.array(look.shirt),
            "trousers": np.array(look.trousers),
            "shoe": np.array(look.shoe),
            "sole": np.array([0.25, 0.25, 0.27]) if light_shoe else np.full(3, 0.9),
            "cap": np.array(look.cap),
        }
        out = np.zeros((len(self.rest), 3))
        for name, colour in paint.items():
            out[self.labels == name] = colour
        return out

    def materials(self, look: Look) -> Floats:
        """Vertex materials (V,): a striped shirt where the look has a stripe."""
        if look.stripe is None:
            return self.material
        return np.asarray(np.where(self.material == SHIRT, STRIPED, self.material))


class _Tailor:
    """Cuts the parts of one body."""

    def __init__(self, body: Body) -> None:
        self.body = body
        main = body.main_bone
        self.arm = self._along_arm(main)
        self.leg, self.trunk = moved_by(main, _LEG_BONES), moved_by(main, _TRUNK_BONES)
        self.foot, self.neck = moved_by(main, ("foot", "toe")), moved_by(main, ("neck",))
        self.head = moved_by(main, ("head", "neck03", "eye"))
        lead = np.char.endswith(main, ".L") & moved_by(main, ("wrist", "finger", "metacarpal"))
        self.lead_hand = lead
        self.hip_z = float(body.bone("upperleg01.L")[2])
        self.waist = self.hip_z + 0.10 * body.height / 1.75
        self.hem = self.hip_z - 0.03
        self.collar = float(body.bone("neck01")[2]) + 0.015
        self.marks = body.landmarks(body.rest)
        self.brim_z = float(self.marks["left_eye"][2]) + 0.045

    def _along_arm(self, main: np.ndarray) -> Floats:
        """Place along the arm in upper-arm lengths from the shoulder; -1 elsewhere."""
        along = np.full(len(main), -1.0)
        for s in SIDES:
            shoulder = self.body.bone(f"upperarm01.{s}")
            upper = self.body.bone(f"lowerarm01.{s}") - shoulder
            mine = np.char.endswith(main, f".{s}") & moved_by(main, _ARM_BONES)
            along[mine] = (self.body.rest[mine] - shoulder) @ unit(upper) / np.linalg.norm(upper)
        return along

    def part(
        self,
        faces: np.ndarray,
        offset: Callable[[Floats], Floats],
        labels: Callable[[Floats, np.ndarray], Labels],
        material: float,
        refine: bool = False,
        cut: Callable[[Floats, Floats], Floats] | None = None,
        floor: float | None = None,
    ) -> _Part:
        """A piece of the mesh pushed out along its normals, refined once if wanted."""
        used, inverse = np.unique(faces, return_inverse=True)
        triangles = inverse.reshape(-1, 3)
        weights, rest, along = self.body.weights[used], self.body.rest[used], self.arm[used]
        normals = self.body.normals[used]
        if refine:
            finer = loop_subdivision(triangles, len(rest))
            weights, rest, along = (finer.apply(x) for x in (weights, rest, along))
            triangles = finer.faces
            normals = vertex_normals(rest, triangles)
        moved = rest + normals * offset(rest)[:, None]
        if floor is not None:
            moved[:, 2] = np.maximum(moved[:, 2], floor)
        keep = np.ones(len(rest)) if cut is None else cut(rest, along)
        return _Part(weights, moved, triangles, labels(rest, used), material, keep)

    def skin(self) -> _Part:
        """Head, neck, forearms and hands, with hair, brows, lips and a glove on the lead hand."""
        rest = self.body.rest
        shown = (self.arm > 0.62) | self.head | (self.neck & (rest[:, 2] > self.collar - 0.05))
        faces = self.body.faces["body"]
        return self.part(faces[shown[faces].all(1)], _flat(0.0), self._skin_labels, SKIN)

    def _skin_labels(self, v: Floats, used: np.ndarray) -> Labels:
        eye, ear, nose = self.marks["left_eye"], self.marks["left_ear"], self.marks["nose"]
        out = np.full(len(v), "skin", dtype="U8")
        on_head = (v[:, 2] > self.collar + 0.02) & (np.abs(v[:, 0]) < 0.12)
        behind = (v[:, 1] > ear[1] + 0.012) & (v[:, 2] > eye[2] - 0.075)
        inside = (np.abs(v[:, 0]) < ear[0] - 0.014) | (v[:, 1] > ear[1] + 0.03)
        out[on_head & behind & inside] = "hair"
        for side in ("left", "right"):
            e = self.marks[f"{side}_eye"]
            off = np.abs(v - e - np.array([0, -0.01, 0.024]))
            near = np.abs(v - e)
            out[(near[:, 0] < 0.02) & (near[:, 2] < 0.012) & (v[:, 1] < eye[1] + 0.015)] = "shade"
            out[(off[:, 0] < 0.024) & (off[:, 2] < 0.006) & (v[:, 1] < eye[1] + 0.02)] = "brow"
        off = np.abs(v - nose - np.array([0, 0.012, -0.042]))
        out[on_head & (off[:, 0] < 0.024) & (off[:, 2] < 0.009) & (v[:, 1] < eye[1] + 0.02)] = "lip"
        out[self.lead_hand[used]] = "glove"
        return out

    def eyeball(self, group: str) -> _Part:
        """One eye with its pupil."""
        faces = self.body.faces[group]
        centre = self.body.rest[np.unique(faces)].mean(0)

        def labels(v: Floats, _used: np.ndarray) -> Labels:
            pupil = np.hypot(v[:, 0] - centre[0], v[:, 2] - centre[2]) < 0.0062
            return np.where(pupil, "pupil", "eye")

        return self.part(faces, _flat(0.0), labels, SKIN)

    def shirt(self) -> _Part:
        """Short-sleeved shirt over the trunk."""
        faces = self.body.faces["tights"]
        z, along = self.body.rest[faces][:, :, 2].mean(1), self.arm[faces].max(1)
        keep = (z > self.hem - 0.09) & (z < self.collar + 0.05) & (along < 0.95)
        keep &= ~self.foot[faces].any(1)
        shoulder_x = abs(float(self.body.bone("upperarm01.L")[0]))

        def offset(v: Floats) -> Floats:
            low = np.clip((self.waist + 0.10 - v[:, 2]) / 0.2, 0, 1)
            return np.where(np.abs(v[:, 0]) > shoulder_x + 0.01, 0.012, 0.008 + 0.014 * low)

        def cut(v: Floats, arm: Floats) -> Floats:
            sleeve = np.where(arm > -0.3, (0.72 - arm) * 0.3, 1.0)
            ends = np.minimum(v[:, 2] - self.hem, self.collar + 0.01 - v[:, 2])
            return np.minimum(ends, sleeve)

        return self.part(faces[keep], offset, _named("shirt"), SHIRT, True, cut)

    def trousers(self) -> _Part:
        """Long trousers."""
        faces = self.body.faces["tights"]
        z, along = self.body.rest[faces][:, :, 2].mean(1), self.arm[faces].max(1)
        keep = self.leg[faces].any(1) & (z < self.waist) & (z > 0.03) & (along < 0)
        keep &= ~self.foot[faces].all(1)
        knee = 0.65 * self.hip_z

        def offset(v: Floats) -> Floats:
            return np.asarray(0.008 + 0.014 * np.clip((knee - v[:, 2]) / knee, 0, 1))

        return self.part(
            faces[keep], offset, _named("trousers"), TROUSERS, True, lambda v, _arm: v[:, 2] - 0.062
        )

    def shoes(self) -> _Part:
        """Shoes with a sole of another colour."""
        faces = self.body.faces["tights"]
        low = self.body.rest[faces][:, :, 2].mean(1) < 0.12

        def labels(v: Floats, _used: np.ndarray) -> Labels:
            return np.where(v[:, 2] < 0.016, "sole", "shoe")

        keep = self.foot[faces].any(1) & low
        return self.part(faces[keep], _flat(0.007), labels, SMOOTH, True, floor=0.001)

    def cap(self) -> list[_Part]:
        """The scalp pushed out, and a brim."""
        faces = self.body.faces["body"]
        high = self.body.rest[faces][:, :, 2].min(1) > self.brim_z - 0.012
        crown = faces[self.head[faces].all(1) & high]
        return [self.part(crown, _flat(0.011), _named("cap"), FELT), self._brim(crown)]

    def _brim(self, crown: np.ndarray) -> _Part:
        v = self.body.rest[np.unique(crown)]
        front, n = v[:, 1].min() + 0.012, 15
        turn = np.linspace(0, np.pi, n)
        half = float(np.ptp(v[:, 0])) / 2 * 0.92
        inner = np.stack(
            [half * np.cos(turn), front + 0.055 - 0.055 * np.sin(turn), np.full(n, self.brim_z + 0.004)], 1
        )
        outer = np.stack(
            [
                1.02 * half * np.cos(turn),
                front + 0.055 - 0.13 * np.sin(turn) ** 0.8,
                self.brim_z - 0.002 - 0.022 * np.sin(turn),
            ],
            1,
        )
        rest = np.concatenate([inner, outer, inner - [0, 0, 0.004], outer - [0, 0, 0.004]])
        i = np.arange(n - 1)
        faces = np.concatenate(
            [
                np.stack([i, n + i, i + 1], 1),
                np.stack([i + 1, n + i, n + i + 1], 1),
                np.stack([2 * n + i, 2 * n + i + 1, 3 * n + i], 1),
                np.stack([2 * n + i + 1, 3 * n + i + 1, 3 * n + i], 1),
            ]
        )
        weights = np.zeros((len(rest), len(self.body.labels)))
        weights[:, self.body.index["head"]] = 1.0
        labels = np.full(len(rest), "cap")
        return _Part(weights, rest, faces, labels, FELT, np.ones(len(rest)))


def _flat(metres: float) -> Callable[[Floats], Floats]:
    return lambda v: np.full(len(v), metres)


def _named(name: str) -> Callable[[Floats, np.ndarray], Labels]:
    return lambda v, _used: np.full(len(v), name)


def dress(body: Body) -> Dressed:
    """Clothes for a body; takes a second or two."""
    cutter = _Tailor(body)
    parts = [
        cutter.skin(),
        cutter.eyeball("l_eye"),
        cutter.eyeball("r_eye"),
        cutter.shirt(),
        cutter.trousers(),
        cutter.shoes(),
        *cutter.cap(),
    ]
    first = np.cumsum([0, *[len(p.rest) for p in parts]])
    return Dressed(
        body=body,
        weights=np.concatenate([p.weights for p in parts]),
        rest=np.concatenate([p.rest for p in parts]),
        normals=np.concatenate([vertex_normals(p.rest, p.faces) for p in parts]),
        faces=np.concatenate([p.faces + k for p, k in zip(parts, first, strict=False)]),
        material=np.concatenate([np.full(len(p.rest), p.material) for p in parts]),
        cut=np.concatenate([p.cut for p in parts]),
        labels=np.concatenate([p.labels for p in parts]),
    )
