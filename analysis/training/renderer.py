"""Off-screen drawing with OpenGL through EGL: a graphics card, or Mesa's software driver."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from analysis.training.camera import FAR_M, NEAR_M
from analysis.training.light import Light
from analysis.training.meshes import Mesh
from analysis.types import Floats

SHADERS = Path(__file__).parent / "shaders"
SHADOW_SIDE = 1536
_FULL_SCREEN = np.array([-1, -1, 3, -1, -1, 3], np.float32)


@dataclass(slots=True)
class _Drawable:
    """Buffers of one mesh on the card."""

    size: tuple[int, int]
    moving: Any
    fixed: Any
    indices: Any
    lit: Any
    dark: Any
    casts_shadow: bool

    def release(self) -> None:
        for part in (self.lit, self.dark, self.moving, self.fixed, self.indices):
            part.release()


@dataclass(slots=True)
class Paint:
    """Colour (3,) or (V, 3), material number or (V,), rest place for cloth patterns, cut (V,)."""

    colour: Floats
    material: Floats | float
    rest: Floats | None = None
    cut: Floats | None = None
    casts_shadow: bool = True

    def rows(self, mesh: Mesh) -> np.ndarray:
        """What the shader needs of every vertex beside place and normal (V, 8)."""
        count = len(mesh.vertices)
        columns = [
            np.broadcast_to(self.colour, (count, 3)),
            np.broadcast_to(np.reshape(self.material, (-1, 1)), (count, 1)),
            mesh.vertices if self.rest is None else self.rest,
            np.ones((count, 1)) if self.cut is None else self.cut[:, None],
        ]
        return np.concatenate(columns, 1).astype(np.float32)


@dataclass(slots=True)
class Renderer:
    """Draws named meshes; ``scene`` meshes stay, ``club`` meshes are drawn over a copy of the scene.

    Parameters
    ----------
    width, height : int
        Picture size in pixels.
    device : int
        Which graphics card.
    """

    width: int
    height: int
    device: int = 0
    scene: dict[str, _Drawable] = field(default_factory=dict)
    club: dict[str, _Drawable] = field(default_factory=dict)
    _gl: Any = None
    _programs: dict[str, Any] = field(default_factory=dict)
    _targets: dict[str, Any] = field(default_factory=dict)
    _screens: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        import moderngl

        self._gl = moderngl.create_context(standalone=True, backend="egl", device_index=self.device)
        self._gl.enable(moderngl.DEPTH_TEST)
        self._gl.disable(moderngl.CULL_FACE)
        for name, vertex, fragment in (
            ("mesh", "mesh.vert", "mesh.frag"),
            ("depth", "depth.vert", "depth.frag"),
            ("sky", "screen.vert", "sky.frag"),
            ("exposure", "screen.vert", "exposure.frag"),
        ):
            self._programs[name] = self._gl.program(
                vertex_shader=_source(vertex), fragment_shader=_source(fragment)
            )
        corners = self._gl.buffer(_FULL_SCREEN.tobytes())
        for name in ("sky", "exposure"):
            self._screens[name] = self._gl.vertex_array(self._programs[name], [(corners, "2f", "corner")])
        self._make_targets()

    def _make_targets(self) -> None:
        gl, size = self._gl, (self.width, self.height)
        for name in ("scene", "instant"):
            colour, depth = gl.texture(size, 4, dtype="f2"), gl.depth_texture(size)
            self._targets |= {
                name: gl.framebuffer([colour], depth),
                f"{name}_colour": colour,
                f"{name}_depth": depth,
            }
        total = gl.texture(size, 4, dtype="f4")
        self._targets["exposure"] = gl.framebuffer([total])
        shadow = gl.depth_texture((SHADOW_SIDE, SHADOW_SIDE))
        shadow.compare_func, shadow.repeat_x, shadow.repeat_y = "<=", False, False
        self._targets |= {"shadow_map": shadow, "shadow": gl.framebuffer(depth_attachment=shadow)}

    def put(self, layer: dict[str, _Drawable], name: str, mesh: Mesh, paint: Paint | None) -> None:
        """Create a mesh, or move it when one of its size is there; ``paint`` None keeps the old paint."""
        moving = np.concatenate([mesh.vertices, mesh.normals], 1).astype(np.float32).tobytes()
        size = (len(mesh.vertices), len(mesh.faces))
        old = layer.get(name)
        if old is not None and old.size == size:
            old.moving.write(moving)
            if paint is not None:
                old.fixed.write(paint.rows(mesh).tobytes())
            return
        if old is not None:
            old.release()
        if paint is None:
            raise ValueError(f"mesh {name!r} is new and needs paint")
        layer[name] = self._upload(size, mesh, moving, paint)

    def _upload(self, size: tuple[int, int], mesh: Mesh, moving: bytes, paint: Paint) -> _Drawable:
        gl = self._gl
        places = gl.buffer(moving, dynamic=True)
        fixed = gl.buffer(paint.rows(mesh).tobytes())
        indices = gl.buffer(np.ascontiguousarray(mesh.faces, np.int32).tobytes())
        lit = gl.vertex_array(
            self._programs["mesh"],
            [
                (places, "3f 3f", "position", "normal"),
                (fixed, "3f 1f 3f 1f", "colour", "material", "rest", "cut"),
            ],
            indices,
        )
        dark = gl.vertex_array(self._programs["depth"], [(places, "3f 12x", "position")], indices)
        return _Drawable(size, places, fixed, indices, lit, dark, paint.casts_shadow)

    def clear(self, layer: dict[str, _Drawable], keep: Iterable[str] = ()) -> None:
        """Drop every mesh of a layer but those in ``keep``."""
        for name in set(layer) - set(keep):
            layer.pop(name).release()

    def begin_exposure(self) -> None:
        """Start a picture at black."""
        self._targets["exposure"].clear(0, 0, 0, 0)

    def draw_scene(self, matrix: Floats, eye: Floats, light: Light, jitter: tuple[float, float]) -> None:
        """Everything but the club, with shadows (the club's too), for one instant.

        Parameters
        ----------
        matrix : ndarray of shape (4, 4)
            World to clip space.
        eye : ndarray of shape (3,)
        light : Light
        jitter : tuple of float
            Shift in clip space, for smooth edges over several instants.
        """
        self._draw_shadows(light)
        gl = self._gl
        gl.disable(gl.BLEND)
        gl.enable(gl.DEPTH_TEST)
        gl.depth_func = "<="
        target = self._targets["scene"]
        target.use()
        target.clear(0, 0, 0, 0, depth=1.0)
        self._set_light(matrix, eye, light, jitter)
        # The ground and the sky last: what is in front of them need not be shaded twice.
        for _name, drawable in sorted(self.scene.items(), key=lambda item: item[0] == "ground"):
            drawable.lit.render()
        self._screens["sky"].render()

    def _draw_shadows(self, light: Light) -> None:
        target = self._targets["shadow"]
        target.use()
        target.clear(depth=1.0)
        self._programs["depth"]["world_to_sun"].write(_bytes(light.sun_matrix()))
        for drawable in [*self.scene.values(), *self.club.values()]:
            if drawable.casts_shadow:
                drawable.dark.render()

    def _set_light(self, matrix: Floats, eye: Floats, light: Light, jitter: tuple[float, float]) -> None:
        mesh, sky = self._programs["mesh"], self._programs["sky"]
        mesh["world_to_clip"].write(_bytes(matrix))
        mesh["world_to_sun"].write(_bytes(light.sun_matrix()))
        sky["clip_to_world"].write(_bytes(np.asarray(np.linalg.inv(matrix), float)))
        self._targets["shadow_map"].use(0)
        sun = np.array(light.sun) / np.linalg.norm(light.sun)
        values = {
            "shadow_map": 0,
            "jitter": jitter,
            "sun": tuple(sun),
            "eye": tuple(float(v) for v in eye),
            "haze": light.sky_horizon,
            "opaque": float(light.opaque),
        }
        for name in (
            "sun_colour", "sky", "bounce", "sky_top", "sky_horizon", "softness", "backdrop", "grass_dark",
            "grass_light", "mat_dark", "mat_light", "mat_centre", "stripe", "seed",
        ):  # fmt: skip
            values[name] = getattr(light, name)
        for program in (mesh, sky):
            for name, value in values.items():
                if name in program:
                    program[name].value = value

    def expose(
        self, jitter: tuple[float, float], when: float, half_width: float, shutter: float, readout: float
    ) -> None:
        """Draw the club over the scene and add this instant to the picture.

        Parameters
        ----------
        jitter : tuple of float
            Shift in clip space.
        when, half_width, shutter, readout : float
            Seconds: middle and half width of the stretch this instant stands for, how long a row is exposed,
            and the time from the first row's start to the last one's.
        """
        gl = self._gl
        gl.copy_framebuffer(self._targets["instant"], self._targets["scene"])
        self._targets["instant"].use()
        gl.disable(gl.BLEND)
        gl.enable(gl.DEPTH_TEST)
        if "jitter" in self._programs["mesh"]:
            self._programs["mesh"]["jitter"].value = jitter
        self._targets["shadow_map"].use(0)
        for drawable in self.club.values():
            drawable.lit.render()
        self._targets["exposure"].use()
        gl.disable(gl.DEPTH_TEST)
        gl.enable(gl.BLEND)
        gl.blend_func = gl.ONE, gl.ONE
        self._targets["instant_colour"].use(0)
        program = self._programs["exposure"]
        program["instant"].value = 0
        for name, value in (
            ("when", when),
            ("half_width", half_width),
            ("shutter", shutter),
            ("readout", readout),
        ):
            program[name].value = value
        self._screens["exposure"].render()

    def depth(self) -> Floats:
        """Distance along the camera's axis (H, W) in the scene without the club, m."""
        raw = np.frombuffer(self._targets["scene_depth"].read(), np.float32)
        z = 2 * raw.reshape(self.height, self.width)[::-1].astype(float) - 1
        return np.asarray(2 * NEAR_M * FAR_M / (FAR_M + NEAR_M - z * (FAR_M - NEAR_M)))

    def picture(self) -> np.ndarray:
        """The summed exposure (H, W, 4), linear, not yet divided by its weights."""
        raw = np.frombuffer(self._targets["exposure"].read(components=4, dtype="f4"), np.float32)
        return raw.reshape(self.height, self.width, 4)[::-1]


def _source(name: str) -> str:
    text = (SHADERS / name).read_text(encoding="utf-8")
    return text.replace("//NOISE", (SHADERS / "noise.glsl").read_text(encoding="utf-8"))


def _bytes(matrix: Floats) -> bytes:
    return np.ascontiguousarray(matrix.T, np.float32).tobytes()
