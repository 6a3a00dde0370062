"""A clip that plays and steps everywhere: H.264 with every frame at its own time, a poster, and an index of frames."""

from __future__ import annotations

import base64
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
from av.audio.stream import AudioStream
from av.container import OutputContainer
from av.video.stream import VideoStream
from numpy.typing import NDArray

from analysis.adapters import media
from analysis.adapters.audio import Audio, peaks, read_audio
from analysis.adapters.picture import UPRIGHT, Painter, Turn, make_upright, swaps_sides, turn_of
from analysis.adapters.video import (
    Probe,
    pictures,
    presentation_times,
    probe,
    shrunk,
    square_pixel_size,
    tick_s,
)

LONG_EDGE_PX = 1280
POSTER_LONG_EDGE_PX = 720
KEY_INTERVAL = 10
PEAKS_PER_S = 100
SOUND_HZ = 48_000
RENDITION, POSTER, INDEX = "rendition.mp4", "poster.jpg", "index.json"

_TICK = Fraction(1, 90_000)
_SOUND_FRAME = 1024
# Where in the clip the poster is taken: the golfer stands at address early on.
_POSTER_AT = 0.2
_X264 = {
    "preset": "veryfast",
    "crf": "22",
    "g": str(KEY_INTERVAL),
    "bf": "0",
    "sc_threshold": "0",
    "profile": "high",
}

Report = Callable[[str, float], None]


def check_clip(path: str, report: Report) -> dict[str, Any]:
    """Quick check of a fresh upload: is it a clip within the limits, and do its first pictures decode?

    Parameters
    ----------
    path : str
        A local file.
    report : callable
        Gets a stage and a percentage.

    Returns
    -------
    dict
        The fields of `analysis.adapters.video.Probe`; sizes in pixels, times in seconds, rates in Hz.

    Raises
    ------
    MediaError
        With a sentence for the sender. The rest of the pictures is decoded while measuring and rendering.
    """
    report("checking", 10)
    found = probe(path)
    return dict(vars(found))


def render_to_dir(path: str, out_dir: str, report: Report) -> dict[str, Any]:
    """Decode all of a clip and write ``rendition.mp4``, ``poster.jpg`` and ``index.json``.

    Parameters
    ----------
    path : str
        A local file that `check_clip` accepted.
    out_dir : str
        An existing folder.
    report : callable
        Gets a stage and a percentage.

    Returns
    -------
    dict
        The probe's fields with ``width``, ``height`` (px) and ``frame_count`` of the rendition.

    Raises
    ------
    MediaError
        If the clip is outside the limits or too much of it can't be decoded.
    """
    found = probe(path)
    target = Path(out_dir)
    audio = _sound(path, found)
    rendered = _render(path, found, audio, target, report)
    report("listing frames", 97)
    index = _index(target / RENDITION, rendered, audio)
    (target / INDEX).write_text(json.dumps(index, separators=(",", ":"), allow_nan=False))
    report("done", 100)
    return {
        **vars(found),
        "width": index["width"],
        "height": index["height"],
        "frame_count": len(rendered.times_us),
    }


@dataclass(frozen=True)
class _Rendered:
    width: int
    height: int
    times_us: list[int]


def _sound(path: str, found: Probe) -> Audio | None:
    return read_audio(path, SOUND_HZ) if found.has_audio else None


def _render(path: str, found: Probe, audio: Audio | None, target: Path, report: Report) -> _Rendered:
    times_us: list[int] = []
    poster_at = int(_POSTER_AT * found.frame_count)
    with av.open(str(target / RENDITION), "w", format="mp4", options={"movflags": "+faststart"}) as out:
        video: VideoStream | None = None
        sound = _Sound(out, audio)
        for time_us, planes, index in _upright_planes(path):
            if video is None:
                video = _video_track(out, planes, found)
                sound.open()
            sound.write_until(time_us / 1e6)
            frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
            frame.pts, frame.time_base = round(time_us * 9 / 100), _TICK
            out.mux(video.encode(frame))
            times_us.append(time_us)
            if len(times_us) == 1 or index == poster_at:
                _write_poster(planes, target / POSTER)
            report("preparing playback", 95 * len(times_us) / found.frame_count)
        if video is None:
            raise media.MediaError("damaged", media.DAMAGED)
        out.mux(video.encode())
        sound.close()
        size = video.codec_context.width, video.codec_context.height
    return _Rendered(*size, times_us)


def _upright_planes(path: str) -> Iterator[tuple[int, NDArray[np.uint8], int]]:
    """Time in microseconds, stacked 4:2:0 planes (3/2 H, W), and index of each frame."""
    with media.open_container(path) as container:
        pts = presentation_times(container, media.video_stream(container))
    with media.open_container(path) as container:
        stream = media.video_stream(container)
        micros = (pts - pts[0]) * tick_s(stream) * 1e6
        painter, size = Painter(), (0, 0)
        for index, picture in pictures(container, stream, pts):
            if size == (0, 0):
                size = _even(*shrunk(*square_pixel_size(picture, stream), LONG_EDGE_PX))
                turn = turn_of(picture)
            planes = painter.paint(picture, *size, "yuv420p").to_ndarray()
            yield round(micros[index]), _turned(np.asarray(planes, dtype=np.uint8), size, turn), index


def _even(width: int, height: int) -> tuple[int, int]:
    return max(2, width - width % 2), max(2, height - height % 2)


def _turned(planes: NDArray[np.uint8], size: tuple[int, int], turn: Turn) -> NDArray[np.uint8]:
    if turn == UPRIGHT:
        return planes
    width, height = size
    luma = make_upright(planes[:height], turn)
    chroma = planes[height:].reshape(2, height // 2, width // 2)
    parts = [make_upright(np.ascontiguousarray(part), turn).ravel() for part in chroma]
    new_width = height if swaps_sides(turn) else width
    return np.concatenate([luma.ravel(), *parts]).reshape(-1, new_width)


def _video_track(out: OutputContainer, planes: NDArray[np.uint8], found: Probe) -> VideoStream:
    rate = Fraction(found.nominal_fps).limit_denominator(1001)
    stream = out.add_stream("libx264", rate=rate, options=_X264)
    stream.width, stream.height, stream.pix_fmt = planes.shape[1], planes.shape[0] * 2 // 3, "yuv420p"
    context = stream.codec_context
    context.time_base = _TICK
    context.color_primaries = context.color_trc = context.colorspace = 1
    context.color_range = 1
    return stream


def _write_poster(planes: NDArray[np.uint8], path: Path) -> None:
    rgb = (
        av.VideoFrame.from_ndarray(planes, format="yuv420p")
        .reformat(format="bgr24", src_colorspace=1)
        .to_ndarray()
    )
    height, width = rgb.shape[:2]
    small = cv2.resize(rgb, shrunk(width, height, POSTER_LONG_EDGE_PX), interpolation=cv2.INTER_AREA)
    done, data = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 82])
    if not done:
        raise OSError("the poster could not be encoded")
    path.write_bytes(data.tobytes())


class _Sound:
    """Feeds the sound to the file in step with the pictures, so that nothing piles up in memory."""

    def __init__(self, out: OutputContainer, audio: Audio | None) -> None:
        self._out = out
        self._stream: AudioStream | None = None
        self._at = 0
        self._samples = np.zeros(0, np.float32)
        self._start = 0
        if audio is not None:
            early = max(0, round(-audio.start_s * audio.rate_hz))
            self._samples = audio.samples[early:]
            self._start = max(0, round(audio.start_s * audio.rate_hz))

    def open(self) -> None:
        if len(self._samples):
            self._stream = self._out.add_stream("aac", rate=SOUND_HZ, layout="mono")
            self._stream.bit_rate = 96_000

    def write_until(self, until_s: float) -> None:
        while (
            self._stream and self._at < len(self._samples) and (self._start + self._at) / SOUND_HZ <= until_s
        ):
            part = np.ascontiguousarray(self._samples[self._at : self._at + _SOUND_FRAME][None])
            frame = av.AudioFrame.from_ndarray(part, format="fltp", layout="mono")
            frame.sample_rate = SOUND_HZ
            frame.pts, frame.time_base = self._start + self._at, Fraction(1, SOUND_HZ)
            self._out.mux(self._stream.encode(frame))
            self._at += _SOUND_FRAME

    def close(self) -> None:
        if self._stream:
            self.write_until(float("inf"))
            self._out.mux(self._stream.encode())


def _index(path: Path, rendered: _Rendered, audio: Audio | None) -> dict[str, Any]:
    with av.open(str(path), format="mp4") as container:
        stream = container.streams.video[0]
        description = bytes(stream.codec_context.extradata or b"")
        packets = [p for p in container.demux(stream) if p.size]
        places = [int(p.pos) for p in packets if p.pos is not None]
        sizes = [int(p.size) for p in packets]
        keys = [k for k, p in enumerate(packets) if p.is_keyframe]
    if not len(places) == len(sizes) == len(rendered.times_us):
        raise RuntimeError(f"{len(sizes)} samples were written for {len(rendered.times_us)} frames")
    last = rendered.times_us[-1]
    usual = round(float(np.median(np.diff(rendered.times_us)))) if len(rendered.times_us) > 1 else 0
    return {
        "version": 1,
        "width": rendered.width,
        "height": rendered.height,
        "times_us": rendered.times_us,
        "end_us": last + usual,
        "offsets": places,
        "sizes": sizes,
        "keys": keys,
        "codec": f"avc1.{description[1:4].hex()}",
        "description": base64.b64encode(description).decode(),
        "sound": _waveform(audio),
    }


def _waveform(audio: Audio | None) -> dict[str, Any] | None:
    if audio is None:
        return None
    parts = max(1, round(len(audio.samples) / audio.rate_hz * PEAKS_PER_S))
    lowest_highest = np.round(peaks(audio, parts).astype(float), 3)
    return {
        "start_us": round(audio.start_s * 1e6),
        "step_us": round(1e6 * len(audio.samples) / audio.rate_hz / parts),
        "peaks": lowest_highest.tolist(),
    }
