"""Scenes made from the rendered clips: what a phone at a range really brings, and what is no swing at all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from analysis.adapters.truth import read_truth
from tests.analysis.clipmaker import CLIPS, frames_of

Picture = NDArray[np.uint8]
FPS = 60
TICK = Fraction(1, 90_000)
SOUND_HZ = 16_000
# Rough times in `fo_none`, frames: address till 20, top 74, impact 91, finish 128 (its truth file says so).
TOP, IMPACT = 74, 91


@dataclass(frozen=True)
class Scene:
    """Pictures with their times (seconds), and the times of clicks in the sound; no sound track if None."""

    frames: Sequence[Picture]
    times_s: Sequence[float] | None = None
    clicks_s: Sequence[float] | None = None
    fps: float = FPS
    # What the file says the camera filmed at, if it says it.
    capture_fps: float | None = None
    # H.264 rate factor: 18 looks like the original, 51 is the worst.
    crf: int = 20


def write_scene(path: Path, scene: Scene) -> Path:
    """Encode a scene as H.264 and AAC with exact times."""
    times = scene.times_s if scene.times_s is not None else [k / scene.fps for k in range(len(scene.frames))]
    # The tag of Android's phones (MediaRecorder.setCaptureRate) in an MP4.
    with av.open(str(path), "w", options={"movflags": "use_metadata_tags"}) as container:
        if scene.capture_fps is not None:
            container.metadata["com.android.capture.fps"] = str(scene.capture_fps)
        stream = container.add_stream("libx264", rate=Fraction(scene.fps).limit_denominator(1000))
        # One thread: how many there are changes the bits, and the same scene shall be the same everywhere.
        stream.pix_fmt, stream.options = (
            "yuv420p",
            {"crf": str(scene.crf), "preset": "veryfast", "threads": "1"},
        )
        stream.height, stream.width = (side // 2 * 2 for side in scene.frames[0].shape[:2])
        stream.codec_context.time_base = TICK
        sound = None
        if scene.clicks_s is not None:
            sound = container.add_stream("aac", rate=SOUND_HZ, layout="mono")
        for at_s, rgb in zip(times, scene.frames, strict=True):
            even = np.ascontiguousarray(rgb[: stream.height, : stream.width])
            frame = _without_chance(
                av.VideoFrame.from_ndarray(even, format="rgb24").reformat(format="yuv420p")
            )
            frame.pts, frame.time_base = round(at_s / TICK), TICK
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
        if sound is not None and scene.clicks_s is not None:
            _add_sound(container, sound, range_sound(max(times) + 1 / scene.fps, scene.clicks_s))
    return path


def _without_chance(frame: av.VideoFrame) -> av.VideoFrame:
    """The same picture with nothing but zeros between its rows, where a converted one has whatever was in memory."""
    packed, at = frame.to_ndarray().ravel(), 0
    clean = av.VideoFrame(frame.width, frame.height, "yuv420p")
    for plane in clean.planes:
        rows = np.zeros((plane.height, plane.line_size), np.uint8)
        rows[:, : plane.width] = packed[at : at + plane.height * plane.width].reshape(
            plane.height, plane.width
        )
        plane.update(rows)
        at += plane.height * plane.width
    return clean


def range_sound(length_s: float, clicks_s: Iterable[float]) -> NDArray[np.float32]:
    """Wind and murmur with short hard clicks on top, one channel at `SOUND_HZ`."""
    random = np.random.default_rng(3)
    noise = np.cumsum(random.normal(0, 1, int(length_s * SOUND_HZ)))
    noise -= np.convolve(noise, np.ones(200) / 200, mode="same")
    out = 0.02 * noise / np.abs(noise).max() + random.normal(0, 0.0015, noise.size)
    for at_s in clicks_s:
        start = round(at_s * SOUND_HZ)
        ring = np.arange(int(0.012 * SOUND_HZ)) / SOUND_HZ
        burst = 0.5 * np.exp(-ring / 0.003) * np.sin(2 * np.pi * 4200 * ring)
        end = min(out.size, start + burst.size)
        out[start:end] += burst[: end - start]
    return np.asarray(np.clip(out, -1, 1), dtype=np.float32)


def _add_sound(container: av.container.OutputContainer, stream: object, wave: NDArray[np.float32]) -> None:
    for begin in range(0, wave.size, 1024):
        frame = av.AudioFrame.from_ndarray(wave[None, begin : begin + 1024], format="fltp", layout="mono")
        frame.sample_rate, frame.pts = SOUND_HZ, begin
        frame.time_base = Fraction(1, SOUND_HZ)
        container.mux(stream.encode(frame))  # type: ignore[attr-defined]
    container.mux(stream.encode())  # type: ignore[attr-defined]


@cache
def half(name: str = "fo_none") -> tuple[Picture, ...]:
    """A vendored clip at half its size."""
    return tuple(_resized(rgb, 0.5) for rgb in frames_of(name))


@cache
def whole(name: str = "fo_none") -> tuple[Picture, ...]:
    """A vendored clip at its own size, for what must be seen sharply."""
    return tuple(frames_of(name))


def _resized(rgb: Picture, factor: float) -> Picture:
    way = cv2.INTER_AREA if factor < 1 else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(rgb, None, fx=factor, fy=factor, interpolation=way), dtype=np.uint8)


def range_background(width: int = 360, height: int = 640) -> Picture:
    """The range beside the golfer, stretched over the picture: sky, nets, grass, nobody."""
    strip = half()[0][:, :70]
    return np.asarray(cv2.resize(strip, (width, height), interpolation=cv2.INTER_CUBIC), dtype=np.uint8)


def with_noise(rgb: Picture, seed: int, amount: float = 4.0) -> Picture:
    """Sensor noise."""
    noise = np.random.default_rng(seed).normal(0, amount, rgb.shape)
    return np.clip(rgb + noise, 0, 255).astype(np.uint8)


def empty_range() -> Scene:
    return Scene([with_noise(range_background(), k) for k in range(90)])


def standing() -> Scene:
    still = list(half()[:12])
    return Scene((still + still[::-1]) * 5)


def standing_down_the_line() -> Scene:
    still = list(half("dtl_none")[:12])
    return Scene((still + still[::-1]) * 5)


def feet() -> Scene:
    """The phone slipped: shoes, ball and ground, enlarged."""
    return Scene([_resized(rgb[940:1120, 240:400], 4) for rgb in frames_of("fo_none")])


def one_shoe() -> Scene:
    return Scene([_resized(rgb[990:1070, 265:325], 8) for rgb in frames_of("fo_none")])


def bag() -> Scene:
    """A bag with clubs in the middle of the range; the picture sways a little."""
    out = []
    for k in range(120):
        sway = round(3 * np.sin(k / 9))
        rgb = range_background().copy()
        cv2.rectangle(rgb, (140 + sway, 300), (220 + sway, 560), (40, 45, 120), -1)
        cv2.ellipse(rgb, (180 + sway, 300), (40, 14), 0, 0, 360, (20, 20, 25), -1)
        cv2.rectangle(rgb, (150 + sway, 420), (210 + sway, 520), (70, 75, 160), -1)
        for lean in (-45, -20, 5, 30, 50):
            cv2.line(rgb, (180 + lean // 3 + sway, 300), (180 + lean + sway, 170), (200, 200, 205), 3)
            cv2.circle(rgb, (180 + lean + sway, 168), 8, (60, 60, 65), -1)
        out.append(with_noise(rgb, k))
    return Scene(out)


def faint_reflection() -> Scene:
    """Only a faint, mirrored golfer in a pane of glass."""
    back = range_background().astype(np.float32)
    return Scene(
        [
            with_noise((0.86 * back + 0.14 * rgb[:, ::-1]).clip(0, 255).astype(np.uint8), k)
            for k, rgb in enumerate(half())
        ]
    )


def golfer_and_reflection() -> Scene:
    """A golfer, and beside them a smaller, fainter mirror image in glass."""
    out = []
    for rgb in half():
        wide = np.concatenate([rgb, range_background(260)], axis=1)
        ghost = _resized(np.ascontiguousarray(rgb[:, ::-1]), 0.7)
        place = wide[96 : 96 + ghost.shape[0], 360 : 360 + ghost.shape[1]]
        place[:] = (0.6 * place + 0.4 * ghost).astype(np.uint8)
        out.append(wide)
    return Scene(out)


def golfer_and_bystander() -> Scene:
    """Someone as large as the golfer stands beside them and watches."""
    watcher = half("fo_reverse")[0][:, ::-1]
    return Scene([np.concatenate([watcher, rgb], axis=1) for rgb in half()])


def large_bystander() -> Scene:
    """Someone larger stands in front at the edge, the golfer swings further away."""
    watcher = half("fo_reverse")[0]
    out = []
    for rgb in half():
        small = np.concatenate([range_background(100, 480), _resized(rgb, 0.75)], axis=1)
        room = np.concatenate([small, range_background(small.shape[1])[:160]], axis=0)
        out.append(np.concatenate([room, watcher], axis=1))
    return Scene(out)


def small_neighbour_swinging() -> Scene:
    """A neighbour two bays on swings too, much smaller."""
    out = []
    late = list(half("fo_early"))
    for k, rgb in enumerate(half()):
        side = range_background(200)
        other = _resized(late[(k + 30) % len(late)], 0.5)[:, 10:170]
        side[120 : 120 + other.shape[0], 20 : 20 + other.shape[1]] = other
        out.append(np.concatenate([rgb, side], axis=1))
    return Scene(out)


def two_golfers() -> Scene:
    return Scene([np.concatenate([a, b], axis=1) for a, b in zip(half(), half("fo_reverse"), strict=True)])


def two_swings() -> Scene:
    return Scene([*half(), *half("fo_early")])


def slow_raise() -> Scene:
    """The club is lifted to the top and let down again, slowly: no swing."""
    up = list(half()[:TOP])
    return Scene(up + up[::-1])


def half_swing() -> Scene:
    """From address to waist high, down and a little through: no full swing."""
    small = list(half()[:46])
    return Scene(small + small[::-1] + small[::-1][:1] * 20)


def dark() -> Scene:
    return Scene([(rgb // 6).astype(np.uint8) for rgb in half()])


def night() -> Scene:
    return Scene([with_noise((rgb // 40).astype(np.uint8), k, 3.0) for k, rgb in enumerate(half())])


def blurred() -> Scene:
    return Scene([cv2.GaussianBlur(rgb, (0, 0), 2.5) for rgb in half()])


def fogged() -> Scene:
    """A lens so greasy that nobody can be made out."""
    return Scene([cv2.GaussianBlur(rgb, (0, 0), 28) for rgb in half()])


def shaken(much: float = 0.33) -> Scene:
    """A hand that trembles and drifts."""
    out = []
    for k, rgb in enumerate(half()):
        dx = much * (7 * np.sin(2 * np.pi * k / 17) + 4 * np.sin(2 * np.pi * k / 7))
        dy = much * 6 * np.sin(2 * np.pi * k / 13 + 1)
        move = np.array([[1, 0, dx], [0, 1, dy]])
        out.append(
            np.asarray(
                cv2.warpAffine(rgb, move, (rgb.shape[1], rgb.shape[0]), borderMode=cv2.BORDER_REPLICATE)
            )
        )
    return Scene(out)


def shaken_hard() -> Scene:
    """A phone in a hand that walks or shivers."""
    return shaken(1.0)


def squeezed() -> Scene:
    """As a messenger hands it on."""
    return Scene(half(), crf=45)


def upper_half() -> Scene:
    return Scene([_resized(rgb[380:740, 180:540], 2) for rgb in frames_of("fo_none")])


def head_cut() -> Scene:
    """The phone points too low: head and shoulders are outside."""
    return Scene([rgb[500:1240, 120:600] for rgb in frames_of("fo_none")])


def hands_at_the_edge() -> Scene:
    """Head and feet fit, the hands at the top leave the picture."""
    return Scene([rgb[340:1200, 186:646] for rgb in frames_of("fo_none")])


def _far(factor: float) -> Scene:
    out = []
    for rgb in half():
        small = _resized(rgb, factor)
        back = cv2.GaussianBlur(range_background(), (0, 0), 3)
        y, x = 380 - small.shape[0] // 2, 180 - small.shape[1] // 2
        back[y : y + small.shape[0], x : x + small.shape[1]] = small
        out.append(np.asarray(back, dtype=np.uint8))
    return Scene(out)


def far() -> Scene:
    return _far(0.42)


def very_far() -> Scene:
    return _far(0.14)


def starts_late() -> Scene:
    """Filming begins halfway up the backswing."""
    return Scene(half()[50:])


def starts_at_the_top() -> Scene:
    return Scene(half()[TOP + 2 :])


def ends_early() -> Scene:
    """Filming ends soon after impact."""
    return Scene(half()[: IMPACT + 17])


def ends_before_impact() -> Scene:
    return Scene(half()[: IMPACT - 8])


def very_short() -> Scene:
    return Scene(half()[TOP - 10 : TOP + 22])


def waggles(name: str = "fo_none") -> Scene:
    """Twice a little back and forth, a quarter of a second's rest, and the swing.

    Frame 20 of the clip is number 79 of the scene.
    """
    frames = list(half(name))
    back = frames[20:36]
    return Scene([*(back + back[::-1]) * 2, *frames[5:]])


def missing_frames() -> Scene:
    """The phone dropped a third of a second of pictures in the backswing."""
    keep = [k for k in range(len(half())) if not 36 <= k < 56]
    return Scene([half()[k] for k in keep], [k / FPS for k in keep])


def variable_rate() -> Scene:
    """A third of the frames is missing here and there, the times stay true."""
    random = np.random.default_rng(11)
    keep = [k for k in range(len(half())) if k % 3 or random.random() < 0.4]
    return Scene([half()[k] for k in keep], [k / FPS for k in keep])


def slow_motion_file() -> Scene:
    """Flattened slow motion: four times slower than life."""
    frames = [rgb for rgb in half() for _ in range(2)]
    return Scene(frames, fps=30.0)


def slow_motion_said() -> Scene:
    """The same from a phone that wrote down how fast it filmed."""
    return Scene(slow_motion_file().frames, fps=30.0, capture_fps=120.0)


def without_ball(frames: Sequence[Picture]) -> list[Picture]:
    """The same swing beside no ball: the ground before the feet is painted with the ground beside it."""
    ball_x, ball_y = truth_ball()
    factor = frames[0].shape[1] / 720
    x, y, r = (round(v * factor) for v in (ball_x, ball_y, 16))
    out = []
    for rgb in frames:
        copy = rgb.copy()
        copy[y - r : y + r, x - r : x + r] = rgb[y + r : y + 3 * r, x - r : x + r]
        out.append(copy)
    return out


def truth_ball() -> tuple[float, float]:
    """Where the ball lies in `fo_none`, pixels."""
    x, y = read_truth(CLIPS / "fo_none.json.gz")["frames"][0]["ball2d"]
    return float(x), float(y)


SCENES: dict[str, Callable[[], Scene]] = {
    maker.__name__: maker
    for maker in (
        empty_range,
        standing,
        standing_down_the_line,
        feet,
        one_shoe,
        bag,
        faint_reflection,
        golfer_and_reflection,
        golfer_and_bystander,
        large_bystander,
        small_neighbour_swinging,
        two_golfers,
        two_swings,
        slow_raise,
        half_swing,
        dark,
        night,
        blurred,
        fogged,
        shaken,
        shaken_hard,
        squeezed,
        upper_half,
        head_cut,
        hands_at_the_edge,
        far,
        very_far,
        starts_late,
        starts_at_the_top,
        ends_early,
        ends_before_impact,
        very_short,
        waggles,
        missing_frames,
        variable_rate,
        slow_motion_file,
        slow_motion_said,
    )
}
