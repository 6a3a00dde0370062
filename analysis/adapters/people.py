"""Who is in the picture: people found in some pictures, and the part of the picture that belongs to each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.adapters.pose import PoseFinder
from analysis.quality import Box
from analysis.types import JOINTS, Floats, PoseTrack

MOST_PEOPLE = 3
LEAST_CONFIDENCE = 0.6
# One person's place from picture to picture, and two finds of the same body, in body heights.
SAME_PLACE, SAME_BODY = 0.45, 0.25
# Room for arms and club around the joints' box, in body heights: to the sides, above, below.
SIDE_ROOM, TOP_ROOM, LOW_ROOM = 0.6, 0.35, 0.15
# Somebody close beside the golfer is found only in a part of the picture without the golfer: at least this wide, in
# shares of the picture; the one found there this sure, and this tall against the golfer.
LEAST_STRIP, LEAST_SURE_BESIDE, LEAST_TALL_BESIDE = 0.15, 0.7, 0.6


@dataclass(frozen=True, slots=True)
class Person:
    """Someone seen at one place in several pictures: the joints' box (pixels) and in how many pictures."""

    box: Box
    seen: int

    @property
    def height(self) -> float:
        """Height of the box, pixels."""
        return self.box[3] - self.box[1]

    @property
    def middle_x(self) -> float:
        """Middle of the box across the picture, pixels."""
        return (self.box[0] + self.box[2]) / 2


def people_in(pictures: list[np.ndarray]) -> list[Person]:
    """People who stay at their place over the pictures, the largest first.

    Parameters
    ----------
    pictures : list of ndarray of shape (H, W, 3), uint8
        Spread over the clip.

    Returns
    -------
    list of Person
        Those seen in at least half of the pictures.
    """
    places: list[_Place] = []
    with PoseFinder(people=MOST_PEOPLE, still=True) as finder:
        for count, rgb in enumerate(pictures):
            boxes = _boxes(finder.find_all(rgb, 0.0))
            for box in boxes + _beside(finder, rgb, boxes):
                _add(places, count, box)
    return _staying(places, len(pictures))


@dataclass(frozen=True, slots=True)
class _Place:
    """Where someone was found, and in which pictures."""

    boxes: list[Box]
    pictures: set[int]


def _staying(places: list[_Place], pictures: int) -> list[Person]:
    """Places as people, the largest first: those in at least half of the pictures, and nobody twice.

    One body whose box changed its shape makes two places close by that no picture holds together.
    """
    kept: list[_Place] = []
    for place in sorted(places, key=lambda p: -len(p.pictures)):
        box = _median_box(place.boxes)
        again = [p for p in kept if not p.pictures & place.pictures and _apart(_median_box(p.boxes), box) < 1]
        if not again and 2 * len(place.pictures) >= pictures:
            kept.append(place)
    people = [Person(_median_box(place.boxes), len(place.pictures)) for place in kept]
    return sorted(people, key=lambda p: -p.height)


def _beside(finder: PoseFinder, rgb: np.ndarray, known: list[Box]) -> list[Box]:
    """Who stands left and right of those already found: of two bodies close by the model reports only one."""
    if not known:
        return []
    width, tallest = rgb.shape[1], max(box[3] - box[1] for box in known)
    left, right = int(min(box[0] for box in known)), int(np.ceil(max(box[2] for box in known)))
    out: list[Box] = []
    for x0, x1 in ((0, left), (right, width)):
        if x1 - x0 < LEAST_STRIP * width:
            continue
        found = finder.find_all(np.ascontiguousarray(rgb[:, x0:x1]), 0.0)
        for low_x, low_y, high_x, high_y in _boxes(found, LEAST_SURE_BESIDE):
            box = (low_x + x0, low_y, high_x + x0, high_y)
            is_tall = box[3] - box[1] >= LEAST_TALL_BESIDE * tallest
            if is_tall and all(_apart(box, other) > SAME_BODY for other in known):
                out.append(box)
    return out


def _boxes(found: list[tuple[Floats, Floats]], least: float = LEAST_CONFIDENCE) -> list[Box]:
    """Boxes of the sure ones; the same body found twice counts once."""
    out: list[Box] = []
    for xy, confidence in found:
        if confidence.mean() <= least:
            continue
        box = _box(xy)
        if all(_apart(box, other) > SAME_BODY for other in out):
            out.append(box)
    return out


def _box(xy: Floats) -> Box:
    (x0, y0), (x1, y1) = xy.min(0), xy.max(0)
    return float(x0), float(y0), float(x1), float(y1)


def _apart(a: Box, b: Box) -> float:
    """Distance of two boxes' middles in heights of the larger one."""
    away = np.hypot((a[0] + a[2] - b[0] - b[2]) / 2, (a[1] + a[3] - b[1] - b[3]) / 2)
    return float(away / max(a[3] - a[1], b[3] - b[1], 1e-9))


def _add(places: list[_Place], picture: int, box: Box) -> None:
    for place in places:
        usual = _median_box(place.boxes)
        if _apart(usual, box) < SAME_PLACE and _alike(usual, box):
            place.boxes.append(box)
            place.pictures.add(picture)
            return
    places.append(_Place([box], {picture}))


def same_body(a: Box, b: Box) -> bool:
    """Whether two boxes (pixels) hold the same body."""
    return _apart(a, b) < SAME_BODY and _alike(a, b)


def _alike(a: Box, b: Box) -> bool:
    tall, small = sorted((a[3] - a[1], b[3] - b[1]), reverse=True)
    return bool(small > 0.5 * tall)


def _median_box(boxes: list[Box]) -> Box:
    x0, y0, x1, y1 = np.median(np.array(boxes), axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def usual_box(pose: PoseTrack) -> Box:
    """Median box of the joints over a track, pixels; the track must hold a frame in which they are known."""
    known = np.isfinite(pose.xy).all((1, 2))
    return _median_box([_box(xy) for xy in pose.xy[known]])


def region_of(person: Person, others: list[Person], width: int, height: int) -> Box:
    """The part of the picture in which only this person is looked for.

    Parameters
    ----------
    person : Person
    others : list of Person
        Everybody else; the region ends halfway to them.
    width, height : int
        Picture size.

    Returns
    -------
    tuple of float
        ``(x0, y0, x1, y1)`` in whole pixels.
    """
    x0, y0, x1, y1 = person.box
    room = SIDE_ROOM * person.height
    left, right = max(0.0, x0 - room), min(float(width), x1 + room)
    for other in others:
        border = _border(person, other)
        if other.middle_x > person.middle_x:
            right = min(right, border)
        else:
            left = max(left, border)
    top = max(0.0, y0 - TOP_ROOM * person.height)
    low = min(float(height), y1 + LOW_ROOM * person.height)
    return float(int(left)), float(int(top)), float(int(np.ceil(right))), float(int(np.ceil(low)))


def _border(person: Person, other: Person) -> float:
    """Where the other one begins; between the two middles if the bodies overlap."""
    if other.middle_x > person.middle_x:
        edge = other.box[0] if other.box[0] > person.box[2] else (person.middle_x + other.middle_x) / 2
        return max(edge, person.middle_x + 0.1 * person.height)
    edge = other.box[2] if other.box[2] < person.box[0] else (person.middle_x + other.middle_x) / 2
    return min(edge, person.middle_x - 0.1 * person.height)


def find_in(finder: PoseFinder, rgb: np.ndarray, t_s: float, region: Box | None) -> tuple[Floats, Floats]:
    """The one person inside ``region`` (all of the picture if None): joints in pixels of the whole picture.

    Parameters
    ----------
    finder : PoseFinder
        One that tracks; always given the same region.
    rgb : ndarray of shape (H, W, 3), uint8
    t_s : float
        Seconds.
    region : tuple of float or None
        ``(x0, y0, x1, y1)`` pixels.

    Returns
    -------
    xy, confidence : ndarray of shape (J, 2) and (J,)
    """
    if region is None:
        return finder.find(rgb, t_s)
    x0, y0, x1, y1 = (int(v) for v in region)
    if x1 - x0 < 16 or y1 - y0 < 16:
        return np.full((len(JOINTS), 2), np.nan), np.zeros(len(JOINTS))
    xy, confidence = finder.find(rgb[y0:y1, x0:x1], t_s)
    return xy + np.array([x0, y0], float), confidence
