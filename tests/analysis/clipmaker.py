"""Clips cut and glued from the rendered ones, for inputs that are no proper swing."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import av
import numpy as np

from analysis.adapters.video import decode

CLIPS = Path(__file__).resolve().parents[2] / "fixtures" / "clips"


def frames_of(name: str) -> list[np.ndarray]:
    """All frames of a vendored clip."""
    return [frame.rgb for frame in decode(CLIPS / f"{name}.mp4")]


def write_clip(path: Path, frames: Iterable[np.ndarray], fps: int = 60) -> Path:
    """Encode frames as H.264."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=fps)
        stream.pix_fmt = "yuv420p"
        stream.options = {"crf": "20", "preset": "veryfast"}
        for count, rgb in enumerate(frames):
            if count == 0:
                stream.height, stream.width = rgb.shape[:2]
            for packet in stream.encode(
                av.VideoFrame.from_ndarray(np.ascontiguousarray(rgb), format="rgb24")
            ):
                container.mux(packet)
        for packet in stream.encode():
            container.mux(packet)
    return path


def someone_standing() -> list[np.ndarray]:
    """The address posture held for two seconds."""
    still = frames_of("fo_none")[:12]
    return (still + still[::-1]) * 5


def a_foot() -> list[np.ndarray]:
    """Only the feet and the ground, enlarged."""
    return [_enlarge(rgb[940:1100, 260:380]) for rgb in frames_of("fo_none")[:90]]


def upper_half() -> list[np.ndarray]:
    """The golfer from the hips up, feet and ball outside."""
    return [_enlarge(rgb[380:740, 180:540]) for rgb in frames_of("fo_none")]


def empty_range() -> list[np.ndarray]:
    """Grass and sky without anybody, slightly noisy."""
    random = np.random.default_rng(5)
    top = np.full((400, 480, 3), (150, 180, 215), np.uint8)
    bottom = np.full((400, 480, 3), (60, 110, 50), np.uint8)
    ground = np.vstack([top, bottom]).astype(int)
    return [
        np.clip(ground + random.integers(-8, 9, ground.shape), 0, 255).astype(np.uint8) for _ in range(70)
    ]


def two_golfers() -> list[np.ndarray]:
    """Two golfers of one size side by side."""
    return [
        np.hstack([rgb[200:1200, 80:640:1], rgb[200:1200, 80:640]])[::2, ::2] for rgb in frames_of("fo_none")
    ]


def two_swings() -> list[np.ndarray]:
    """One swing after the other."""
    frames = frames_of("fo_none")
    return frames + frames_of("fo_early")


def darkened() -> list[np.ndarray]:
    """Dusk: a sixth of the light."""
    return [(rgb // 6).astype(np.uint8) for rgb in frames_of("fo_none")]


def _enlarge(rgb: np.ndarray, side: int = 720) -> np.ndarray:
    factor = max(1, side // min(rgb.shape[:2]))
    big = rgb.repeat(factor, axis=0).repeat(factor, axis=1)
    return big[: big.shape[0] // 2 * 2, : big.shape[1] // 2 * 2]


MAKERS: dict[str, Callable[[], list[np.ndarray]]] = {
    "someone_standing": someone_standing,
    "a_foot": a_foot,
    "upper_half": upper_half,
    "empty_range": empty_range,
    "two_golfers": two_golfers,
    "two_swings": two_swings,
    "darkened": darkened,
}
