"""A film in which nobody can be known again: head, other people and surroundings covered, no sound, no metadata."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from analysis.adapters.media import MediaError
from analysis.adapters.pose import PoseFinder
from analysis.covering import Body, Cover, body_of, body_points, covers, others_among, region_of

GREY = 118
SHEET_COLUMNS, SHEET_ROWS, THUMB_PX = 6, 4, 200
# A person found in one frame is covered in those around it as well: the finder misses some.
OTHERS_FOR_US = 500_000
FINDER_LONG_EDGE_PX = 960
_TICK = Fraction(1, 90_000)
_X264 = {"preset": "veryfast", "crf": "22", "g": "10", "bf": "0", "profile": "high"}

Picture = NDArray[np.uint8]
Box = tuple[float, float, float, float]
Report = Callable[[str, float], None]


def cover_to_dir(
    path: str,
    tracks: Sequence[Mapping[str, Any]],
    span_us: Sequence[int] | None,
    margin: float,
    out_dir: str,
    report: Report,
) -> dict[str, Any]:
    """Write ``film.mp4``, ``poster.jpg`` and ``sheet-01.jpg`` ..., on which every frame stands.

    Parameters
    ----------
    path : str
        A rendition.
    tracks : sequence of mapping
        The golfer's lines, as `analysis.covering.body_of` reads them.
    span_us : (int, int) or None
        First and last microsecond of the film; None keeps all, with its times.
    margin : float
        Radius of the cover over the head in head lengths, 1 to 3.
    out_dir : str
        An existing folder.
    report : callable
        Called with stage and percentage.

    Returns
    -------
    dict
        ``width``, ``height`` (px), ``frames``, ``whole`` and ``widened`` (frames so covered), ``others`` (frames in
        which other people are covered) and ``sheets``: ``[first, last]`` frame of each.

    Raises
    ------
    MediaError
        If the golfer is seen in too few frames for a lesson.
    """
    times = [us for us in _times_us(path) if span_us is None or span_us[0] <= us <= span_us[1]]
    size = _size(path)
    body = body_of(tracks, size)
    plan = covers(times, body, margin)
    bare = sum(each.whole for each in plan)
    if body is None or not times or (span_us is not None and bare > len(times) / 2):
        raise MediaError(
            "not_coverable", "The golfer is seen in too few frames of this swing to cover it safely."
        )
    others = _others(path, times, body, report)
    _write(Path(out_dir), path, times, _Painter(plan, others, region_of(body, size)), report)
    report("done", 100)
    return {
        "width": size[0],
        "height": size[1],
        "frames": len(times),
        "whole": bare,
        "widened": sum(each.widened for each in plan),
        "others": sum(bool(boxes) for boxes in others),
        "sheets": _spans(len(times)),
    }


def cover_many(jobs: Sequence[Mapping[str, Any]], margin: float, report: Report) -> dict[str, Any]:
    """Cover the whole of several clips (``path``, ``tracks``, ``out_dir`` each), for a talk over them."""
    for number, job in enumerate(jobs):
        share = 100 / len(jobs)

        def part(stage: str, percent: float, number: int = number, share: float = share) -> None:
            report(stage, share * (number + percent / 100))

        cover_to_dir(job["path"], job["tracks"], None, margin, job["out_dir"], part)
    return {"clips": len(jobs)}


def sheets_to_dir(path: str, out_dir: str, report: Report) -> dict[str, Any]:
    """Write ``poster.jpg`` and the sheets of a film that was made of covered clips, three pictures of each second."""
    out, sheets, count, last = Path(out_dir), _Sheets(Path(out_dir)), 0, -1e9
    for us, picture in _pictures(path):
        if us - last < 330_000:
            continue
        if not count:
            _save(out / "poster.jpg", picture)
        sheets.add(picture)
        count, last = count + 1, us
    sheets.close()
    report("done", 100)
    return {"frames": count, "sheets": _spans(count)}


def _spans(count: int) -> list[list[int]]:
    per = SHEET_COLUMNS * SHEET_ROWS
    return [[first, min(count, first + per) - 1] for first in range(0, count, per)]


def _size(path: str) -> tuple[int, int]:
    with av.open(path) as film:
        stream = film.streams.video[0]
        return stream.width, stream.height


def _pictures(path: str) -> Iterator[tuple[int, Picture]]:
    with av.open(path) as film:
        stream = film.streams.video[0]
        stream.thread_type, stream.thread_count = "AUTO", 2
        first: int | None = None
        for frame in film.decode(stream):
            if frame.pts is None:
                continue
            first = frame.pts if first is None else first
            us = round(float((frame.pts - first) * (stream.time_base or 1)) * 1e6)
            yield us, np.asarray(frame.to_ndarray(format="rgb24"), dtype=np.uint8)


def _times_us(path: str) -> list[int]:
    with av.open(path) as film:
        stream = film.streams.video[0]
        pts = sorted(packet.pts for packet in film.demux(stream) if packet.pts is not None)
        return [round(float((each - pts[0]) * (stream.time_base or 1)) * 1e6) for each in pts]


def _others(path: str, times: list[int], body: Body, report: Report) -> list[list[Box]]:
    """Of each frame the boxes of other people, found there or just before or after."""
    found: list[list[Box]] = []
    wanted = set(times)
    with PoseFinder(people=4, still=True) as finder:
        for us, picture in _pictures(path):
            if us not in wanted:
                continue
            scale = min(1.0, FINDER_LONG_EDGE_PX / max(picture.shape[:2]))
            small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
            small = _without_golfer(np.asarray(small, np.uint8), body, us, scale)
            people = [
                (xy / scale, sure) for xy, sure in finder.find_all(np.asarray(small, np.uint8), us / 1e6)
            ]
            found.append(others_among(people, body, us))
            report("looking for other people", 55 * len(found) / len(times))
    if len(found) != len(times):
        raise MediaError("damaged", "This film can't be read to its end.")
    return [
        [
            box
            for other, boxes in zip(times, found, strict=True)
            if abs(other - us) <= OTHERS_FOR_US
            for box in boxes
        ]
        for us in times
    ]


def _without_golfer(picture: Picture, body: Body, us: float, scale: float) -> Picture:
    """The finder looks for the most conspicuous people first: without the golfer it finds the others."""
    hull = cv2.convexHull(np.round(body_points(body, us) * scale).astype(np.int32))
    out: Picture = picture.copy()
    if hull is not None and len(hull) > 2:
        thick = max(1, round(0.12 * body.height_px * scale))
        cv2.fillConvexPoly(out, hull, (GREY, GREY, GREY))
        cv2.polylines(out, [hull], True, (GREY, GREY, GREY), thick)
    return out


class _Painter:
    def __init__(self, plan: list[Cover], others: list[list[Box]], region: tuple[int, int, int, int]) -> None:
        self._plan, self._others, self._region = plan, others, region

    def painted(self, picture: Picture, number: int) -> Picture:
        cover = self._plan[number]
        if cover.whole:
            return np.full_like(picture, GREY)
        left, top, right, bottom = self._region
        out = np.full_like(picture, GREY)
        out[top:bottom, left:right] = picture[top:bottom, left:right]
        for a, b, c, d in self._others[number]:
            cv2.rectangle(out, (int(a), int(b)), (int(np.ceil(c)), int(np.ceil(d))), (GREY, GREY, GREY), -1)
        _cover_head(out, cover)
        return out


def _cover_head(picture: Picture, cover: Cover) -> None:
    ring = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    points = np.concatenate(
        [
            np.stack([disc.x + disc.radius * np.cos(ring), disc.y + disc.radius * np.sin(ring)], axis=1)
            for disc in cover.head
        ]
    )
    hull = cv2.convexHull(np.round(points).astype(np.int32))
    cv2.fillConvexPoly(picture, hull, (GREY, GREY, GREY))


def _write(out: Path, path: str, times: list[int], painter: _Painter, report: Report) -> None:
    number, sheets = 0, _Sheets(out)
    wanted = set(times)
    # Only what is written here stands in the file: no tags, no sound, no other track.
    with av.open(str(out / "film.mp4"), "w", format="mp4", options={"movflags": "+faststart"}) as film:
        video: Any = None
        for us, picture in _pictures(path):
            if us not in wanted:
                continue
            covered = painter.painted(picture, number)
            if video is None:
                video = film.add_stream("libx264", rate=30, options=_X264)
                video.width, video.height, video.pix_fmt = picture.shape[1], picture.shape[0], "yuv420p"
                video.codec_context.time_base = _TICK
                _save(out / "poster.jpg", covered)
            frame = av.VideoFrame.from_ndarray(covered, format="rgb24")
            frame.pts, frame.time_base = round((us - times[0]) * 9 / 100), _TICK
            film.mux(video.encode(frame))
            sheets.add(covered)
            number += 1
            report("covering", 55 + 44 * number / len(times))
        film.mux(video.encode(None))
    sheets.close()


class _Sheets:
    """Every frame, small and numbered, so that a person can look at each."""

    def __init__(self, out: Path) -> None:
        self._out, self._thumbs, self._number, self._frame = out, list[Picture](), 0, 0

    def add(self, picture: Picture) -> None:
        scale = THUMB_PX / picture.shape[1]
        thumb = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        cv2.putText(thumb, str(self._frame + 1), (4, 16), cv2.FONT_HERSHEY_SIMPLEX, 0.5, (0, 0, 0), 3)
        cv2.putText(thumb, str(self._frame + 1), (4, 16), cv2.FONT_HERSHEY_SIMPLEX, 0.5, (255, 255, 255), 1)
        self._thumbs.append(np.asarray(thumb, dtype=np.uint8))
        self._frame += 1
        if len(self._thumbs) == SHEET_COLUMNS * SHEET_ROWS:
            self._flush()

    def close(self) -> None:
        if self._thumbs:
            self._flush()

    def _flush(self) -> None:
        self._number += 1
        blank = np.full_like(self._thumbs[0], GREY)
        columns = min(SHEET_COLUMNS, len(self._thumbs))
        while len(self._thumbs) % columns:
            self._thumbs.append(blank)
        rows = [
            np.concatenate(self._thumbs[at : at + columns], axis=1)
            for at in range(0, len(self._thumbs), columns)
        ]
        _save(self._out / f"sheet-{self._number:02d}.jpg", np.concatenate(rows, axis=0))
        self._thumbs = []


def _save(path: Path, rgb: Picture) -> None:
    done, data = cv2.imencode(".jpg", cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, 82])
    if not done:
        raise OSError("the picture could not be encoded")
    path.write_bytes(data.tobytes())
