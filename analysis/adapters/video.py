"""Clips: what a video file holds, the time of each frame, and the frames themselves."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import av
import numpy as np
from av.container import InputContainer
from av.video.stream import VideoStream
from numpy.typing import NDArray

from analysis.adapters import media
from analysis.adapters.media import MediaError
from analysis.adapters.picture import Painter, Turn, degrees_of, is_hdr, make_upright, swaps_sides, turn_of

__all__ = ["Frame", "MediaError", "Probe", "decode", "frame_times", "probe"]

_MAX_FRAMES = int(media.MAX_DURATION_S * media.MAX_FPS) + 1
# A few packets may be lost without harm; more means that the picture can't be trusted.
_MAX_BAD_SHARE = 0.05
_QUICK_PIXELS = 1920 * 1088
_CAPTURE_RATE_KEYS = ("com.android.capture.fps",)


@dataclass(frozen=True)
class Probe:
    """What a clip is, without decoding all of it.

    Attributes
    ----------
    container : str
        ``"mov"`` or ``"matroska"``.
    codec : str
        ``"h264"``, ``"hevc"`` or ``"vp9"``.
    width, height : int
        Pixels of the upright picture.
    rotation_deg : int
        Clockwise turn from the stored to the upright picture: 0, 90, 180 or 270.
    duration_s : float
        From the first frame's start to the last frame's end.
    frame_count : int
        Frames that are shown.
    nominal_fps : float
        Usual rate of the frames' timestamps, Hz.
    has_audio : bool
    bit_depth : int
        Bits a colour component.
    variable_rate : bool
        True when an interval differs from the usual one by more than the timestamps' rounding.
    hdr : bool
        PQ or HLG picture.
    capture_fps : float or None
        Rate the camera filmed at, when the file says so. Larger than `nominal_fps` means that the timestamps
        were stretched for slow motion.
    """

    container: str
    codec: str
    width: int
    height: int
    rotation_deg: int
    duration_s: float
    frame_count: int
    nominal_fps: float
    has_audio: bool
    bit_depth: int
    variable_rate: bool
    hdr: bool = False
    capture_fps: float | None = None


@dataclass(frozen=True)
class Frame:
    """One upright picture.

    Attributes
    ----------
    index : int
        Place in `frame_times`.
    t_s : float
        Seconds from the clip's first frame.
    rgb : ndarray of shape (H, W, 3), uint8
        BT.709, full range.
    """

    index: int
    t_s: float
    rgb: NDArray[np.uint8]


def probe(path: str | Path) -> Probe:
    """Describe a clip and refuse what is outside the limits of `analysis.adapters.media`.

    Parameters
    ----------
    path : str or Path
        A local file of at most `media.MAX_BYTES`.

    Returns
    -------
    Probe

    Raises
    ------
    MediaError
        With the first reason found: file, container, track, codec, size, length, completeness, rate.
    """
    container_format = media.container_of(path)
    if os.path.getsize(path) > media.MAX_BYTES:
        raise MediaError(
            "too_many_bytes",
            "This file is larger than 500 MB. Please trim it to the swing and send it again.",
        )
    with media.open_container(path) as container:
        stream = media.video_stream(container)
        _check_announced_length(container, stream)
        pts = presentation_times(container, stream)
        _check_complete(container, stream, Path(path), pts)
        one_tick_s = tick_s(stream)
        times_s = (pts - pts[0]) * one_tick_s
        fps, variable = _rate(times_s, one_tick_s)
        duration_s = float(times_s[-1] + (1.0 / fps if fps else 0.0))
        _check_length(duration_s, len(pts))
        _check_rate(fps)
        first = _first_picture(path)
        turn = turn_of(first)
        width, height = _upright_size(first, stream, turn)
        media.check_size(width, height)
        return Probe(
            container=container_format,
            codec=stream.codec_context.codec.canonical_name,
            width=width,
            height=height,
            rotation_deg=degrees_of(turn),
            duration_s=duration_s,
            frame_count=len(pts),
            nominal_fps=fps,
            has_audio=bool(container.streams.audio),
            bit_depth=first.format.components[0].bits,
            variable_rate=variable,
            hdr=is_hdr(first),
            capture_fps=_capture_fps(container, stream),
        )


def frame_times(path: str | Path) -> NDArray[np.float64]:
    """Presentation time of each frame.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    ndarray of shape (T,), float64
        Seconds from the first frame, strictly increasing.

    Raises
    ------
    MediaError
        If the file can't be read or holds more frames than a clip may have.
    """
    with media.open_container(path) as container:
        stream = media.video_stream(container)
        pts = presentation_times(container, stream)
        return np.asarray((pts - pts[0]) * tick_s(stream), dtype=np.float64)


def decode(
    path: str | Path,
    *,
    long_edge: int | None = None,
    start_s: float | None = None,
    end_s: float | None = None,
    every: int = 1,
) -> Iterator[Frame]:
    """Decode frames in order of presentation.

    Parameters
    ----------
    path : str or Path
    long_edge : int or None
        Shrink so that the longer side has at most this many pixels; never enlarges.
    start_s, end_s : float or None
        Only frames with ``start_s <= t_s < end_s``, in seconds from the first frame.
    every : int
        Only frames whose index is a multiple of this, >= 1.

    Yields
    ------
    Frame
        Upright 8-bit BT.709 RGB.

    Raises
    ------
    ValueError
        If `long_edge` < 16 or `every` < 1.
    MediaError
        If the file is refused, or too many of its frames can't be decoded (``damaged``).
    """
    if long_edge is not None and long_edge < 16:
        raise ValueError(f"long_edge must be at least 16 pixels, got {long_edge}")
    if every < 1:
        raise ValueError(f"every must be at least 1, got {every}")
    return _decode(path, long_edge, start_s, end_s, every)


def _decode(
    path: str | Path, long_edge: int | None, start_s: float | None, end_s: float | None, every: int
) -> Iterator[Frame]:
    with media.open_container(path) as container:
        stream = media.video_stream(container)
        pts = presentation_times(container, stream)
        times_s = (pts - pts[0]) * tick_s(stream)
    # Opened again for the pictures: a file without an index can't be wound back.
    with media.open_container(path) as container:
        stream = media.video_stream(container)
        if stream.width * stream.height <= _QUICK_PIXELS:
            # One thread decodes these faster than poses are found, with a third less processor time than two.
            stream.codec_context.thread_count = 1
        painter = Painter()
        first = 0 if start_s is None else int(np.searchsorted(times_s, start_s - 1e-7))
        stop = len(pts) if end_s is None else int(np.searchsorted(times_s, end_s - 1e-7))
        if first >= stop:
            return
        if first > 0:
            wind_to(container, stream, int(pts[first]))
        for index, picture in pictures(container, stream, pts, first=first, stop=stop):
            if index % every == 0:
                yield Frame(index, float(times_s[index]), upright_rgb(picture, stream, long_edge, painter))


def pictures(
    container: InputContainer,
    stream: VideoStream,
    pts: NDArray[np.int64],
    *,
    first: int = 0,
    stop: int | None = None,
) -> Iterator[tuple[int, av.VideoFrame]]:
    """Decode from the container's present place, naming each picture by its place in the time table.

    Parameters
    ----------
    container, stream
        From `media.open_container` and `media.video_stream`, placed at or before the first frame wanted.
    pts : ndarray of shape (T,), int64
        Strictly increasing timestamps in the stream's ticks.
    first, stop : int
        Range of indices wanted; `stop` None means all.

    Yields
    ------
    tuple of (int, VideoFrame)
        Strictly increasing indices.

    Raises
    ------
    MediaError
        ``damaged`` when more than 5 % of the wanted frames are missing, or the picture changes its size.
    """
    stop = len(pts) if stop is None else stop
    last, given, size = first - 1, 0, None
    for picture in _decodable(container, stream):
        index = -1 if picture.pts is None else int(np.searchsorted(pts, picture.pts))
        if index <= last or index >= len(pts) or pts[index] != picture.pts:
            continue
        if index >= stop:
            break
        size = size or (picture.width, picture.height)
        if size != (picture.width, picture.height):
            raise MediaError(
                "damaged", "The picture changes its size midway. Please film the swing again in one take."
            )
        last, given = index, given + 1
        yield index, picture
    if stop - first - given > max(1, _MAX_BAD_SHARE * (stop - first)):
        raise MediaError("damaged", media.DAMAGED)


def wind_to(container: InputContainer, stream: VideoStream, ticks: int) -> None:
    """Place the container at the last key frame at or before ``ticks`` of the stream's time base."""
    # A file without an index stays at its start: slower, and right all the same.
    with suppress(av.error.FFmpegError):
        container.seek(ticks, stream=stream, backward=True)


def _decodable(container: InputContainer, stream: VideoStream) -> Iterator[av.VideoFrame]:
    for packet in _packets(container, stream):
        try:
            yield from packet.decode()
        except av.error.MemoryError:
            raise
        except av.error.FFmpegError:
            continue


def _packets(container: InputContainer, stream: VideoStream) -> Iterator[av.Packet[VideoStream]]:
    try:
        yield from container.demux(stream)
    except av.error.FFmpegError as problem:
        raise MediaError("truncated", media.TRUNCATED) from problem


def presentation_times(container: InputContainer, stream: VideoStream) -> NDArray[np.int64]:
    """Timestamps of the frames that are shown, read without decoding; leaves the container at its end.

    Parameters
    ----------
    container, stream
        From `media.open_container` and `media.video_stream`, at the start.

    Returns
    -------
    ndarray of shape (T,), int64
        Ticks of the stream's time base, strictly increasing.

    Raises
    ------
    MediaError
        ``truncated``, ``too_long`` or ``too_many_frames``.
    """
    ticks: list[int] = []
    for packet in _packets(container, stream):
        if packet.pts is not None and not packet.is_discard:
            ticks.append(packet.pts)
        if len(ticks) > _MAX_FRAMES:
            break
    if not ticks:
        raise MediaError("truncated", media.TRUNCATED)
    pts = np.unique(np.asarray(ticks, dtype=np.int64))
    if len(ticks) > _MAX_FRAMES:
        _check_length(float(pts[-1] - pts[0]) * tick_s(stream), len(pts))
        raise MediaError(
            "too_many_frames",
            f"This clip has more than {_MAX_FRAMES} frames. Please trim it to the swing or film at 240 fps or less.",
        )
    return pts


def tick_s(stream: VideoStream) -> float:
    """Length of one tick of a track's timestamps.

    Parameters
    ----------
    stream : VideoStream

    Returns
    -------
    float
        Seconds.
    """
    return float(stream.time_base) if stream.time_base else 1.0


def _rate(times_s: NDArray[np.float64], tick_s: float) -> tuple[float, bool]:
    if len(times_s) < 2:
        return 0.0, False
    steps = np.diff(times_s)
    usual = float(np.median(steps))
    # The usual interval, free of the rounding of timestamps to ticks (1/600 s and 1/1000 s are common).
    near = np.abs(steps - usual) <= max(1.01 * tick_s, 0.02 * usual)
    return 1.0 / float(np.mean(steps[near])), not bool(np.all(near))


def _first_picture(path: str | Path) -> av.VideoFrame:
    with media.open_container(path) as container:
        for picture in _decodable(container, media.video_stream(container)):
            return picture
    raise MediaError("damaged", media.DAMAGED)


def _upright_size(picture: av.VideoFrame, stream: VideoStream, turn: Turn) -> tuple[int, int]:
    width, height = square_pixel_size(picture, stream)
    return (height, width) if swaps_sides(turn) else (width, height)


def square_pixel_size(picture: av.VideoFrame, stream: VideoStream) -> tuple[int, int]:
    """Size of a stored picture once its pixels are made square.

    Parameters
    ----------
    picture, stream
        A decoded picture and its track.

    Returns
    -------
    tuple of int
        Width and height, pixels.
    """
    aspect = stream.codec_context.sample_aspect_ratio
    if not aspect or not 0.25 < aspect < 4:
        return picture.width, picture.height
    return max(1, round(picture.width * float(aspect))), picture.height


def upright_rgb(
    picture: av.VideoFrame, stream: VideoStream, long_edge: int | None, painter: Painter
) -> NDArray[np.uint8]:
    """A decoded picture upright, with square pixels, shrunk to ``long_edge``, 8-bit BT.709: (H, W, 3)."""
    width, height = shrunk(*square_pixel_size(picture, stream), long_edge)
    rgb = painter.paint(picture, width, height, "rgb24").to_ndarray()
    return make_upright(np.asarray(rgb, dtype=np.uint8), painter.turn(picture))


def shrunk(width: int, height: int, long_edge: int | None) -> tuple[int, int]:
    """Size of a picture whose longer side is at most `long_edge`.

    Parameters
    ----------
    width, height : int
        Pixels.
    long_edge : int or None
        Pixels; None keeps the size.

    Returns
    -------
    tuple of int
        Width and height with the same proportions, never larger than given.
    """
    longest = max(width, height)
    if long_edge is None or longest <= long_edge:
        return width, height
    return max(1, round(width * long_edge / longest)), max(1, round(height * long_edge / longest))


def _capture_fps(container: InputContainer, stream: VideoStream) -> float | None:
    for key in _CAPTURE_RATE_KEYS:
        text = container.metadata.get(key) or stream.metadata.get(key)
        try:
            rate = float(text) if text else 0.0
        except ValueError:
            continue
        if 1.0 <= rate <= 2000.0:
            return rate
    return None


def _check_announced_length(container: InputContainer, stream: VideoStream) -> None:
    announced_s = max(float(stream.duration or 0) * tick_s(stream), (container.duration or 0) / 1_000_000)
    if announced_s > 2 * media.MAX_DURATION_S:
        _check_length(announced_s, media.MIN_FRAMES)


def _check_complete(
    container: InputContainer, stream: VideoStream, path: Path, pts: NDArray[np.int64]
) -> None:
    """Refuse a file that stops before its own table of contents does."""
    size = os.path.getsize(path)
    if any(entry.pos + entry.size > size for entry in stream.index_entries):
        raise MediaError("truncated", media.TRUNCATED)
    # Matroska has no table of samples, only the length it promised.
    announced_s = (
        (container.duration or 0) / 1_000_000 if container.format.name.startswith("matroska") else 0.0
    )
    held_s = float(pts[-1] - pts[0]) * tick_s(stream)
    if announced_s > 1.0 and held_s < 0.8 * announced_s:
        raise MediaError("truncated", media.TRUNCATED)


def _check_length(duration_s: float, frames: int) -> None:
    if duration_s > media.MAX_DURATION_S + 0.5:
        raise MediaError(
            "too_long",
            f"This clip is {_spoken(duration_s)} long; the most is {media.MAX_DURATION_S:.0f} seconds. "
            "Please trim it to the swing and send it again.",
        )
    if frames < media.MIN_FRAMES:
        raise MediaError(
            "one_frame", "This video holds a single picture. Please film the whole swing and send it again."
        )
    if duration_s < media.MIN_DURATION_S:
        raise MediaError(
            "too_short",
            f"This clip is only {duration_s:.1f} seconds long. Please send the whole swing, from address to finish.",
        )


def _check_rate(fps: float) -> None:
    if fps < media.MIN_FPS:
        raise MediaError(
            "rate_too_low",
            f"This clip has only {fps:.0f} frames a second, too few to see a swing. "
            "Please film at 60 or more, in good light.",
        )
    if fps > media.MAX_FPS:
        raise MediaError(
            "rate_too_high",
            f"This clip has {fps:.0f} frames a second; the most is 240. Please film at 240 or less.",
        )


def _spoken(duration_s: float) -> str:
    if duration_s < 180:
        return f"{duration_s:.0f} seconds"
    return f"{duration_s / 60:.0f} minutes" if duration_s < 7200 else f"{duration_s / 3600:.0f} hours"
