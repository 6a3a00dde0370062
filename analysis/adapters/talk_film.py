"""A talk-through as one video file: the pictures as they were shown, the drawings as they grew, the voice."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

from analysis.adapters.mark_painter import MarkPainter
from analysis.adapters.talkline import TalkReader, place_at, shown_marks

FILM_FPS = 30
KEPT_PICTURES = 24
# Further ahead than this a jump to the next key picture is cheaper than decoding all between (renditions: 10).
REACH = 12
_X264 = {"preset": "veryfast", "crf": "22", "profile": "high"}

Picture = NDArray[np.uint8]
Report = Callable[[str, float], None]


def film_to_dir(
    clips: Mapping[str, Mapping[str, Any]],
    timeline: Mapping[str, Any],
    sound: str,
    out_dir: str,
    report: Report,
) -> dict[str, Any]:
    """Write ``film.mp4``: H.264 and AAC at 30 pictures a second, index first.

    Parameters
    ----------
    clips : mapping
        Id of a swing to ``path`` (its rendition) and ``span_us`` (first and last microsecond to show).
    timeline : mapping
        ``duration_ms`` and ``events``, as `analysis.adapters.talkline.TalkReader` reads them.
    sound : str
        The talk's AAC file; copied as it is.
    out_dir : str
        An existing folder.
    report : callable
        Called with stage and percentage.

    Returns
    -------
    dict
        ``width``, ``height`` (px) and ``pictures`` (int).

    Raises
    ------
    ValueError
        If the time line shows nothing, or a swing without a clip.
    """
    reader = TalkReader(timeline["events"])
    shown = {event["swing"] for event in timeline["events"] if event["kind"] == "place"}
    if not shown or shown - set(clips):
        raise ValueError(f"timeline must show swings among {sorted(clips)}, got {sorted(shown)}")
    sources = {swing: _Source(clips[swing]["path"]) for swing in sorted(shown)}
    size = _size(sources.values())
    count = max(1, math.ceil(timeline["duration_ms"] * FILM_FPS / 1000))
    try:
        pictures = _pictures(reader, sources, clips, size, count)
        _write(Path(out_dir) / "film.mp4", pictures, size, count, sound, report)
    finally:
        for source in sources.values():
            source.close()
    report("done", 100)
    return {"width": size[0], "height": size[1], "pictures": count}


def _size(sources: Sequence[_Source] | Any) -> tuple[int, int]:
    """Room for the largest clip each way; H.264 wants even numbers."""
    sizes = [source.size for source in sources]
    width, height = (max(one[axis] for one in sizes) for axis in (0, 1))
    return width + width % 2, height + height % 2


def _pictures(
    reader: TalkReader,
    sources: Mapping[str, _Source],
    clips: Mapping[str, Mapping[str, Any]],
    size: tuple[int, int],
    count: int,
) -> Iterator[Picture]:
    """Each picture of the film, as RGB; the same array again while nothing changes."""
    painter = MarkPainter()
    last: tuple[Any, ...] = ()
    picture = np.zeros((size[1], size[0], 3), dtype=np.uint8)
    for number in range(count):
        ms = 1000 * number / FILM_FPS
        state = reader.at(ms)
        place = place_at(state, ms)
        if place is not None:
            first, end = clips[place["swing"]]["span_us"]
            us = min(max(place["us"], first), end)
            source = sources[place["swing"]]
            marks = [
                mark
                for mark in shown_marks(state)
                if mark["swing"] == place["swing"]
                and (mark is state.growing or mark["from_us"] <= us <= mark["to_us"])
            ]
            now = (place["swing"], source.index_at(us), marks)
            if now != last:
                last = now
                picture = _fitted(painter.painted(source.picture(now[1]), marks), size)
        yield picture


def _fitted(picture: Picture, size: tuple[int, int]) -> Picture:
    """In the middle of the film's picture, black around."""
    height, width = picture.shape[:2]
    if (width, height) == size:
        return picture
    out = np.zeros((size[1], size[0], 3), dtype=np.uint8)
    top, left = (size[1] - height) // 2, (size[0] - width) // 2
    out[top : top + height, left : left + width] = picture
    return out


def _write(
    path: Path, pictures: Iterator[Picture], size: tuple[int, int], count: int, sound: str, report: Report
) -> None:
    with av.open(sound) as voice, av.open(str(path), "w", options={"movflags": "+faststart"}) as film:
        spoken = voice.streams.audio[0]
        audio = film.add_stream_from_template(spoken)
        video = film.add_stream("libx264", rate=FILM_FPS, options=_X264)
        video.width, video.height, video.pix_fmt = *size, "yuv420p"
        video.thread_count = 2
        waiting = (packet for packet in voice.demux(spoken) if packet.dts is not None)
        packet = next(waiting, None)
        for number, picture in enumerate(pictures):
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = number, Fraction(1, FILM_FPS)
            film.mux(video.encode(frame))
            while packet is not None and _seconds(packet) <= number / FILM_FPS:
                packet.stream = audio
                film.mux(packet)
                packet = next(waiting, None)
            if number % FILM_FPS == 0:
                report("drawing", 100 * number / count)
        film.mux(video.encode(None))
        while packet is not None:
            packet.stream = audio
            film.mux(packet)
            packet = next(waiting, None)


def _seconds(packet: av.Packet[Any]) -> float:
    return float((packet.pts or 0) * (packet.time_base or 0))


class _Source:
    """Pictures of one rendition by number, near ones kept."""

    def __init__(self, path: str) -> None:
        self._container = av.open(path)
        self._stream = self._container.streams.video[0]
        self._stream.thread_type = "AUTO"
        self._stream.thread_count = 2
        tick_us = 1e6 * float(self._stream.time_base or 1)
        shown = (packet.pts for packet in self._container.demux(self._stream))
        self._pts = sorted(pts for pts in shown if pts is not None)
        self._times_us = [round((pts - self._pts[0]) * tick_us) for pts in self._pts]
        self._kept: OrderedDict[int, Picture] = OrderedDict()
        self._coming: Iterator[av.VideoFrame] = iter(())
        # Nothing is decoded yet: the first wish seeks.
        self._next = -REACH - 1

    @property
    def size(self) -> tuple[int, int]:
        return self._stream.width, self._stream.height

    def close(self) -> None:
        self._container.close()

    def index_at(self, us: float) -> int:
        return max(0, bisect_right(self._times_us, us) - 1)

    def picture(self, index: int) -> Picture:
        if index not in self._kept:
            self._decode(index)
        self._kept.move_to_end(index)
        return self._kept[index]

    def _decode(self, index: int) -> None:
        if not 0 <= index - self._next < REACH:
            self._container.seek(self._pts[index], stream=self._stream, backward=True)
            self._coming = self._container.decode(self._stream)
        for frame in self._coming:
            if frame.pts is None:
                continue
            found = bisect_right(self._pts, frame.pts) - 1
            self._next = found + 1
            self._kept[found] = np.asarray(frame.to_ndarray(format="rgb24"), dtype=np.uint8)
            while len(self._kept) > KEPT_PICTURES:
                self._kept.popitem(last=False)
            if found >= index:
                break
        if index not in self._kept:
            raise ValueError(f"picture must be one of {len(self._pts)} that decode, got {index}")
