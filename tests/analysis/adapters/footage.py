"""Clips made on the spot: each frame carries its number as black and white blocks, so that it can be read back."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

BITS = 10
TICK = Fraction(1, 90_000)
QUIET_HEVC = {"x265-params": "log-level=none"}


def numbered(index: int, width: int, height: int) -> NDArray[np.uint8]:
    """A grey picture; its top tenth shows `index` in binary, its left bottom corner is red."""
    picture = np.full((height, width, 3), 90, np.uint8)
    block = width // BITS
    for bit in range(BITS):
        picture[: height // 10, bit * block : (bit + 1) * block] = 255 * (index >> bit & 1)
    picture[-height // 5 :, : width // 5] = (220, 20, 20)
    return picture


def number_in(picture: NDArray[np.uint8]) -> int:
    height, width = picture.shape[:2]
    block = width / BITS
    row = height // 20
    return sum((int(picture[row, int((bit + 0.5) * block), 1]) > 128) << bit for bit in range(BITS))


def film(
    path: Path,
    *,
    codec: str = "libx264",
    size: tuple[int, int] = (320, 240),
    times_s: Sequence[float] | None = None,
    frames: int = 60,
    fps: float = 60.0,
    pixels: str = "yuv420p",
    turn_deg: int | None = None,
    mirror: bool = False,
    tone_hz: float | None = None,
    tone_from_s: float = 0.0,
    tag: tuple[int, int, int] | None = None,
    file_options: dict[str, str] | None = None,
    metadata: dict[str, str] | None = None,
    **options: str,
) -> Path:
    """Write a clip. `tag` is (primaries, transfer, matrix) by ISO/IEC 23091-2; `turn_deg` counts counter-clockwise."""
    width, height = size
    times_s = [k / fps for k in range(frames)] if times_s is None else times_s
    if codec == "libx265":
        options = {**QUIET_HEVC, **options}
    with av.open(str(path), "w", container_options=file_options or {}) as container:
        container.metadata.update(metadata or {})
        stream = container.add_stream(codec, rate=Fraction(fps).limit_denominator(1000), options=options)
        stream.width, stream.height, stream.pix_fmt = width, height, pixels
        stream.codec_context.time_base = TICK
        if turn_deg is not None or mirror:
            stream.set_display_rotation(turn_deg or 0, hflip=mirror)
        if tag:
            context = stream.codec_context
            context.color_primaries, context.color_trc, context.colorspace = tag
        sound = container.add_stream("aac", rate=48_000, layout="mono") if tone_hz else None
        for index, at_s in enumerate(times_s):
            frame = av.VideoFrame.from_ndarray(numbered(index, width, height), format="rgb24")
            frame = frame.reformat(format=pixels, dst_colorspace=tag[2] if tag else None)
            frame.pts, frame.time_base = round(at_s / TICK), TICK
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
        if sound is not None and tone_hz is not None:
            _add_tone(container, sound, tone_hz, tone_from_s, max(times_s))
    return path


def _add_tone(container: Any, sound: Any, hz: float, from_s: float, to_s: float) -> None:
    for begin in range(0, int((to_s - from_s) * 48_000), 1024):
        wave = 0.5 * np.sin(2 * np.pi * hz * (begin + np.arange(1024)) / 48_000)
        frame = av.AudioFrame.from_ndarray(wave.astype(np.float32)[None], format="fltp", layout="mono")
        frame.sample_rate = 48_000
        frame.pts, frame.time_base = begin + round(from_s * 48_000), Fraction(1, 48_000)
        container.mux(sound.encode(frame))
    container.mux(sound.encode())


def sound_only(path: Path, *, seconds: float = 2.0, codec: str = "aac") -> Path:
    with av.open(str(path), "w") as container:
        sound = container.add_stream(codec, rate=48_000, layout="mono")
        _add_tone(container, sound, 440.0, 0.0, seconds)
    return path
