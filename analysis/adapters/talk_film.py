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

from analysis.adapters.following import followed
from analysis.adapters.mark_painter import MarkPainter
from analysis.adapters.overlay_fit import Fit, Stance, fit_over, laid_over, stance_at
from analysis.adapters.talkline import TalkReader, TalkState, place_at, shown_marks
from analysis.timemap import TimeMap

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
        Id of a swing, of the talk's own and of those beside them, to ``path`` (its rendition), ``span_us`` (first
        and last microsecond to show), ``tracks`` (or None), which drawings go with, and ``address_us``, at which one
        golfer is laid over the other.
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
    pairs = [e["pair"] for e in timeline["events"] if e["kind"] == "pair" and e["pair"]]
    others = {pair["second"] for pair in pairs} & set(clips)
    sources = {swing: _Source(clips[swing]["path"]) for swing in sorted(shown | others)}
    pane = _size(list(sources.values()))
    # Two panes all through when anything ever stands beside anything.
    has_two = any(pair["second"] in others and pair.get("layout") != "over" for pair in pairs)
    size = (2 * pane[0], pane[1]) if has_two else pane
    count = max(1, math.ceil(timeline["duration_ms"] * FILM_FPS / 1000))
    try:
        stage = _Stage(sources, clips, pane, has_two=has_two)
        pictures = stage.pictures(reader, count)
        _write(Path(out_dir) / "film.mp4", pictures, size, count, sound, report)
    finally:
        for source in sources.values():
            source.close()
    report("done", 100)
    return {"width": size[0], "height": size[1], "pictures": count}


def _size(sources: Sequence[_Source]) -> tuple[int, int]:
    """Room for the largest clip each way; H.264 wants even numbers."""
    sizes = [source.size for source in sources]
    width, height = (max(one[axis] for one in sizes) for axis in (0, 1))
    return width + width % 2, height + height % 2


class _Stage:
    """What the film shows, one picture after the other; the same array again while nothing changes."""

    def __init__(
        self,
        sources: Mapping[str, _Source],
        clips: Mapping[str, Mapping[str, Any]],
        pane: tuple[int, int],
        *,
        has_two: bool,
    ) -> None:
        self._sources, self._clips, self._pane, self._has_two = sources, clips, pane, has_two
        self._painter = MarkPainter()
        self._fits: dict[tuple[str, str, bool], Fit] = {}

    def pictures(self, reader: TalkReader, count: int) -> Iterator[Picture]:
        last: tuple[Any, ...] = ()
        width, height = self._pane
        picture = np.zeros((height, (2 if self._has_two else 1) * width, 3), dtype=np.uint8)
        for number in range(count):
            ms = 1000 * number / FILM_FPS
            state = reader.at(ms)
            place = place_at(state, ms)
            if place is not None:
                now = (*self._own(state, place), *self._beside(state, place))
                if now != last:
                    last = now
                    picture = self._painted(*now)
            yield picture

    def _own(self, state: TalkState, place: Mapping[str, Any]) -> tuple[str, int, list[Mapping[str, Any]]]:
        swing = place["swing"]
        us = self._within(swing, place["us"])
        source, tracks = self._sources[swing], self._clips[swing].get("tracks")
        marks = []
        for mark in shown_marks(state):
            growing = mark is state.growing
            if mark["swing"] == swing and (growing or mark["from_us"] <= us <= mark["to_us"]):
                marks.append(followed(mark, tracks, us, source.step_us, source.size[0] / source.size[1]))
        return swing, source.index_at(us), [mark for mark in marks if mark is not None]

    def _beside(self, state: TalkState, place: Mapping[str, Any]) -> tuple[str, int, bool, int]:
        """Which other swing, its picture, whether it is mirrored, and by how much (per cent) it lies over the own."""
        pair = state.pair
        if pair is None or pair["second"] not in self._sources:
            return "", 0, False, 0
        us = self._within(pair["second"], _other_us(pair, place["us"]))
        over = int(pair.get("opacity", 50)) if pair.get("layout") == "over" else 0
        return pair["second"], self._sources[pair["second"]].index_at(us), bool(pair["is_mirrored"]), over

    def _within(self, swing: str, us: float) -> float:
        first, end = self._clips[swing]["span_us"]
        return float(min(max(us, first), end))

    def _painted(
        self,
        swing: str,
        index: int,
        marks: list[Mapping[str, Any]],
        other: str,
        there: int,
        mirrored: bool,
        over: int,
    ) -> Picture:
        picture = self._sources[swing].picture(index)
        if other and over:
            fit = self._fit(swing, other, mirrored)
            picture = laid_over(picture, self._sources[other].picture(there), fit, over / 100)
        own = _fitted(self._painter.painted(picture, marks), self._pane)
        if not self._has_two:
            return own
        if not other or over:
            return np.concatenate([own, np.zeros_like(own)], axis=1)
        beside = self._sources[other].picture(there)
        return np.concatenate([own, _fitted(beside[:, ::-1] if mirrored else beside, self._pane)], axis=1)

    def _fit(self, swing: str, other: str, mirrored: bool) -> Fit:
        key = (swing, other, mirrored)
        if key not in self._fits:
            first, second = self._sources[swing].size, self._sources[other].size
            self._fits[key] = fit_over(self._stance(swing), first, self._stance(other), second, flip=mirrored)
        return self._fits[key]

    def _stance(self, swing: str) -> Stance | None:
        clip = self._clips[swing]
        return stance_at(clip.get("tracks"), float(clip.get("address_us") or 0), self._sources[swing].size)


def _other_us(pair: Mapping[str, Any], us: float) -> float:
    """Where the swing beside stands: by the shared events, by the kept distance, or where it was left."""
    if pair["lock"] == "offset":
        return us + float(pair["offset_us"])
    first, second = (np.array(pair["time_map"].get(name, [])) / 1e6 for name in ("first_us", "second_us"))
    if pair["lock"] == "events" and len(first) >= 2:
        held = TimeMap(tuple(pair["time_map"]["events"]), first, second, ())
        return float(held.to_second(np.array(us / 1e6)) * 1e6)
    return float(pair.get("other_us", 0))


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

    @property
    def step_us(self) -> float:
        """Three quarters of a usual frame: how far a row of the tracks may be from the time it stands for."""
        return 0.75 * self._times_us[-1] / max(1, len(self._times_us) - 1)

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
