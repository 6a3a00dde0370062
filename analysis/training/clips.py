"""Render a clip with its truth: ``python -m analysis.training.clips --name NAME --view face_on ...``."""

from __future__ import annotations

import argparse
import gzip
import json
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from analysis.training.body import BODIES, MIXED_BODIES
from analysis.training.camera import Camera
from analysis.training.clothes import dress
from analysis.training.clubs import CLUBS
from analysis.training.exposure import Actor, Exposed, Shutter, expose
from analysis.training.golf_club import DrawnClub
from analysis.training.light import LIGHTS, Light
from analysis.training.looks import LOOKS
from analysis.training.parameters import FAULTS, SwingParameters
from analysis.training.renderer import Renderer
from analysis.training.sensor import sharpened, tone, vignette, with_noise
from analysis.training.set_pieces import put_ball, put_ground, put_range
from analysis.training.swing import Swing
from analysis.training.truth import TruthWriter
from analysis.types import VIEWS

# Exposure time (s), noise level and brightness a phone would choose.
SHUTTERS = {"range_sun": 1 / 500, "low_sun": 1 / 400, "overcast": 1 / 240, "bay": 1 / 120}
NOISES = {"range_sun": 0.5, "low_sun": 0.6, "overcast": 1.0, "bay": 2.2}
BRIGHTNESS = {"range_sun": 0.50, "low_sun": 0.48, "overcast": 0.62, "bay": 0.85}
_WOOD = {
    "iron7": DrawnClub(0.94),
    "hybrid": DrawnClub(1.02, wood=True, head_colour=(0.06, 0.06, 0.07), head_material=4.0, head_scale=0.8),
    "driver": DrawnClub(1.14, wood=True, head_colour=(0.03, 0.03, 0.035), head_material=4.0, head_scale=1.1),
}


def parser() -> argparse.ArgumentParser:
    """The command line's options."""
    p = argparse.ArgumentParser(prog="python -m analysis.training.clips", description=__doc__)
    p.add_argument("--name", default="clip", help="file name without ending")
    p.add_argument("--out", type=Path, default=Path("clips"), help="folder, made when missing")
    p.add_argument("--view", choices=VIEWS, default="face_on")
    p.add_argument("--fault", choices=FAULTS, default="none")
    p.add_argument("--amount", type=float, default=1.0, help="0 none .. 1 full")
    p.add_argument(
        "--body", default="m_avg", help=f"{', '.join((*BODIES, *MIXED_BODIES))} or mix:a,b,c,scale"
    )
    p.add_argument("--look", choices=sorted(LOOKS), default="navy")
    p.add_argument("--light", choices=sorted(LIGHTS), default="range_sun")
    p.add_argument("--club", choices=sorted(CLUBS), default="iron7")
    p.add_argument(
        "--stick", type=float, default=0.0, help="stick on the ground against the target line, degrees"
    )
    p.add_argument("--without-stick", action="store_true", help="nothing lies on the ground")
    p.add_argument("--left", action="store_true", help="left-hander: the mirrored picture")
    for name, value, words in (
        ("fps", 60.0, "frames a second"),
        ("duration", 2.5, "seconds"),
        ("backswing", 0.80, "seconds"),
        ("downswing", 0.27, "seconds"),
        ("yaw", 0.0, "camera off the ideal line, degrees"),
        ("dist", 2.85, "camera distance, m"),
        ("height", 1.05, "camera height, m"),
        ("fov", 62.0, "vertical field of view, degrees"),
        ("shake", 0.6, "0 on a tripod, 1 a steady hand"),
        ("readout", 0.0, "rolling shutter: seconds from the first to the last row"),
        ("shutter", 0.0, "exposure in seconds, 0 as the light asks"),
        ("stop", 0.0, "end after that many seconds of the clip, 0 at its end"),
    ):
        p.add_argument(f"--{name}", type=float, default=value, help=words)
    p.add_argument("--size", type=int, nargs=2, default=(720, 1280), metavar=("W", "H"))
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--crf", type=int, default=20, help="H.264 quality, lower is better")
    return p


def main(arguments: Sequence[str]) -> int:
    """Render one clip; returns the exit status."""
    options = parser().parse_args(arguments)
    try:
        frames, seconds = render_clip(options)
    except ValueError as error:
        print(f"This can't be rendered: {error}", file=sys.stderr)
        return 64
    print(f"{options.name}: {frames} frames in {seconds:.1f} s")
    return 0


def render_clip(options: argparse.Namespace) -> tuple[int, float]:
    """Write ``NAME.mp4`` and ``NAME.json.gz``; returns the number of frames and the seconds it took."""
    began = time.monotonic()
    swing = Swing(
        SwingParameters(
            body=options.body,
            club=options.club,
            fault=options.fault,
            amount=options.amount,
            backswing=options.backswing,
            downswing=options.downswing,
            duration=options.duration,
            seed=options.seed,
            fps=options.fps,
        )
    )
    width, height = options.size
    camera = Camera(
        options.view,
        width,
        height,
        options.dist,
        options.height,
        options.fov,
        options.yaw,
        options.shake,
        options.seed,
    )
    shutter = Shutter(options.shutter or SHUTTERS[options.light], options.readout)
    studio = _Studio(swing, camera, shutter, options)
    truth = TruthWriter(swing, camera, shutter, options.left)
    options.out.mkdir(parents=True, exist_ok=True)
    until = options.stop or options.duration
    frames = []
    with _Film(options.out / f"{options.name}.mp4", width, height, options.fps, options.crf) as film:
        for k in range(int(until * options.fps)):
            exposed = studio.shoot(k / options.fps)
            film.add(studio.developed(exposed))
            frames.append(truth.frame(k / options.fps, exposed))
    chosen = {k: str(v) if isinstance(v, Path) else v for k, v in vars(options).items()}
    meta = truth.meta(
        options.name, options.fps, {"light": options.light, "look": options.look, "args": chosen}
    )
    text = json.dumps({"meta": meta, "frames": frames}, separators=(",", ":"))
    (options.out / f"{options.name}.json.gz").write_bytes(gzip.compress(text.encode(), 9))
    return len(frames), time.monotonic() - began


class _Studio:
    """Everything that is drawn, and the phone that films it."""

    def __init__(self, swing: Swing, camera: Camera, shutter: Shutter, options: argparse.Namespace) -> None:
        self.swing, self.camera, self.shutter, self.options = swing, camera, shutter, options
        self.renderer = Renderer(camera.width, camera.height)
        put_ground(self.renderer)
        put_range(self.renderer, swing, options.seed, None if options.without_stick else options.stick)
        look, dressed = LOOKS[options.look], dress(swing.body)
        club = replace(
            _WOOD[options.club], length=swing.p.club_length, lie_deg=57 + swing.p.shape.plane_change
        )
        self.actor = Actor(swing, dressed, dressed.colours(look), dressed.materials(look), club)
        self.light: Light = replace(
            LIGHTS[options.light],
            mat_centre=(0.0, float(swing.ball[1]) * 0.72),
            stripe=look.stripe or (1.0, 1.0, 1.0),
            seed=float(options.seed % 17),
        )
        self._draw = np.random.default_rng(options.seed + 5)

    def shoot(self, start_s: float) -> Exposed:
        """One linear frame."""
        middle = start_s + self.shutter.span_s / 2
        put_ball(self.renderer, self.swing.ball_at(middle))
        matrix, eye = self.camera.world_to_camera(middle)
        view = (self.camera.projection() @ matrix, eye)
        return expose(
            self.renderer,
            self.actor,
            start_s,
            self.shutter,
            view,
            self.light,
            lambda points: self.camera.project(middle, points),
        )

    def developed(self, exposed: Exposed) -> np.ndarray:
        """The frame as a phone would store it (H, W, 3) uint8."""
        light = self.options.light
        linear = exposed.picture[:, :, :3] * vignette(self.camera.width, self.camera.height).astype(
            np.float32
        )
        linear = with_noise(linear, NOISES[light], self._draw)
        picture = sharpened(tone(linear, BRIGHTNESS[light]) * 255, 0.35)
        frame = np.clip(picture, 0, 255).astype(np.uint8)
        return np.ascontiguousarray(frame[:, ::-1] if self.options.left else frame)


class _Film:
    """An H.264 file that frames are added to."""

    def __init__(self, path: Path, width: int, height: int, fps: float, crf: int) -> None:
        import av

        self._av: Any = av
        self._box: Any = av.open(str(path), "w")
        self._stream = self._box.add_stream("libx264", rate=round(fps))
        self._stream.width, self._stream.height, self._stream.pix_fmt = width, height, "yuv420p"
        self._stream.options = {"crf": str(crf), "preset": "medium", "profile": "high"}

    def __enter__(self) -> _Film:
        return self

    def add(self, rgb: np.ndarray) -> None:
        """Encode one frame."""
        for packet in self._stream.encode(self._av.VideoFrame.from_ndarray(rgb, format="rgb24")):
            self._box.mux(packet)

    def __exit__(self, *_: object) -> None:
        for packet in self._stream.encode():
            self._box.mux(packet)
        self._box.close()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
