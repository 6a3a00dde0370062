"""The event sheet of a swing, and its events as single pictures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from analysis.adapters.ink import INK, PAPER, SOFT, Picture, draw_body, wrapped, write
from analysis.adapters.stills import frames_at
from analysis.adapters.video import Frame
from analysis.numbers import number_words
from analysis.readout import NOT_VISIBLE, UNVALIDATED, SwingReadout
from analysis.sheet import Body, Box, Tile, body_at, golfer_box, tiles_of

ENDINGS = (".png", ".jpg", ".jpeg")
TILE_WIDTH, COLUMNS, GAP = 510, 2, 20
TITLE, TEXT, SMALL = 34, 30, 26
JPEG_QUALITY = 82
_EMPTY = (226, 230, 229)
_VIEWS = {"face_on": "Face-on", "dtl": "Down-the-line"}


@dataclass(frozen=True, slots=True)
class EventPictures:
    """Pictures of the found events, all of one size, with the words that belong to them."""

    tiles: tuple[Tile, ...]
    pictures: Mapping[str, Picture]
    width: int
    height: int


def event_pictures(path: str | Path, swing: SwingReadout, *, width: int = TILE_WIDTH) -> EventPictures:
    """The golfer at each found event, cut out of the clip, with body lines and shaft.

    Parameters
    ----------
    path : str or Path
        The clip that ``swing`` was measured in.
    swing : SwingReadout
    width : int
        Pixels of each picture.

    Raises
    ------
    MediaError
        If the clip can't be read.
    """
    tiles = tiles_of(swing)
    found = [tile for tile in tiles if tile.t_s is not None]
    long_edge = max(swing.tracks.pose.width, swing.tracks.pose.height)
    frames = frames_at(path, [float(tile.t_s or 0) for tile in found], long_edge=long_edge)
    # The lines belong to the frame that is shown, not to the instant between two frames.
    bodies = [body_at(swing.tracks, frame.t_s) for frame in frames]
    box = golfer_box(swing.tracks, bodies)
    height = round(width * box.height / box.width)
    shown = {
        tile.event: _picture(frame, body, box, width, height)
        for tile, frame, body in zip(found, frames, bodies, strict=True)
    }
    return EventPictures(tiles, shown, width, height)


def _picture(frame: Frame, body: Body, box: Box, width: int, height: int) -> Picture:
    part = frame.rgb[box.top : box.bottom, box.left : box.right]
    shrinks = part.shape[1] >= width
    how = cv2.INTER_AREA if shrinks else cv2.INTER_CUBIC
    picture = np.ascontiguousarray(cv2.resize(part, (width, height), interpolation=how), dtype=np.uint8)
    draw_body(picture, body, width / box.width, (box.left, box.top))
    return picture


def event_sheet(swing: SwingReadout, shown: EventPictures) -> Picture:
    """All events on one sheet, two beside each other, so that it can be read on a phone.

    Returns
    -------
    ndarray of shape (H, 1080, 3), uint8
        Missing events have an empty tile that says so.
    """
    width = COLUMNS * shown.width + (COLUMNS + 1) * GAP
    rows = [_head(swing, width)]
    for first in range(0, len(shown.tiles), COLUMNS):
        rows.append(_row(shown, shown.tiles[first : first + COLUMNS], width))
    rows.append(_foot(width))
    return np.concatenate(rows, axis=0)


def _blank(height: int, width: int) -> Picture:
    return np.full((height, width, 3), PAPER, dtype=np.uint8)


def _paragraphs(width: int, paragraphs: list[tuple[str, int, int]], soft: bool = False) -> Picture:
    """Words below each other: (words, letter height, weight) each."""
    lines = [
        (line, size, weight)
        for words, size, weight in paragraphs
        for line in wrapped(words, size, width - 2 * GAP, weight)
    ]
    band = _blank(GAP + sum(round(1.4 * size) for _, size, _ in lines), width)
    low = GAP // 2
    for line, size, weight in lines:
        low += round(1.4 * size)
        write(band, line, GAP, low - round(0.3 * size), size, SOFT if soft else INK, weight)
    return band


def _head(swing: SwingReadout, width: int) -> Picture:
    tracks = swing.tracks
    facts = [f"{tracks.handedness}-handed", f"{swing.fps:g} frames a second"]
    facts += [tracks.club_class] if tracks.club_class else []
    tempo = swing.metrics.get("tempo_ratio")
    if tempo is not None and tempo.value is not None:
        facts.append(f"tempo {number_words(tempo.value, tempo.se, tempo.unit)}")
    title = f"{_VIEWS[tracks.view]}, swing {swing.number}"
    lines = (
        "Lead side: solid blue. Trail side: dashed orange. Shaft: double line. ± is half the 95 % interval."
    )
    return _paragraphs(width, [(title, 44, 700), (", ".join(facts), TEXT, 400), (lines, SMALL, 400)])


def _foot(width: int) -> Picture:
    unseen = f"Not visible to one phone: {', '.join(NOT_VISIBLE)}."
    return _paragraphs(width, [(unseen, SMALL, 400), (UNVALIDATED, SMALL, 400)], soft=True)


def _row(shown: EventPictures, tiles: tuple[Tile, ...], width: int) -> Picture:
    captions = [_caption(tile, shown.width) for tile in tiles]
    tall = max(caption.shape[0] for caption in captions)
    row = _blank(shown.height + tall, width)
    for k, (tile, caption) in enumerate(zip(tiles, captions, strict=True)):
        left = GAP + k * (shown.width + GAP)
        picture = shown.pictures.get(tile.event)
        row[: shown.height, left : left + shown.width] = _empty(shown) if picture is None else picture
        row[shown.height : shown.height + caption.shape[0], left : left + shown.width] = caption
    return row


def _empty(shown: EventPictures) -> Picture:
    tile = np.full((shown.height, shown.width, 3), _EMPTY, dtype=np.uint8)
    write(tile, "not found", shown.width // 2 - 70, shown.height // 2, TEXT, SOFT, 700)
    return tile


def _caption(tile: Tile, width: int) -> Picture:
    paragraphs = [(tile.title, TITLE, 700), (tile.time_words, TEXT, 400)]
    return _paragraphs(width + 2 * GAP, [*paragraphs, *((n, SMALL, 400) for n in tile.numbers)])[:, GAP:-GAP]


def encoded(picture: Picture, ending: str) -> bytes:
    """The picture as a file's content.

    Raises
    ------
    ValueError
        If ``ending`` is none of ``ENDINGS``.
    """
    if ending.lower() not in ENDINGS:
        raise ValueError(f"the picture's name must end with one of {', '.join(ENDINGS)}, got {ending!r}")
    quality = [] if ending.lower() == ".png" else [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
    done, data = cv2.imencode(ending.lower(), picture[:, :, ::-1], quality)
    if not done:
        raise ValueError(f"the picture could not be written as {ending}")
    return bytes(data)


def write_pictures(path: str | Path, swing: SwingReadout, out: Path) -> dict[str, Any]:
    """Sheet and single pictures of a swing as JPEG files in ``out``.

    Returns
    -------
    dict
        ``{"sheet": file, "width", "height", "stills": {event: {"file", "t"}}}``; ``t`` is the event's time in
        seconds that the picture was made for.
    """
    shown = event_pictures(path, swing)
    sheet = out / f"sheet_{swing.number}.jpg"
    sheet.write_bytes(encoded(event_sheet(swing, shown), ".jpg"))
    stills: dict[str, Any] = {}
    for tile in shown.tiles:
        if tile.event in shown.pictures:
            file = out / f"still_{swing.number}_{tile.event}.jpg"
            file.write_bytes(encoded(shown.pictures[tile.event], ".jpg"))
            stills[tile.event] = {"file": file.name, "t": round(float(tile.t_s or 0), 4)}
    return {"sheet": sheet.name, "width": shown.width, "height": shown.height, "stills": stills}
