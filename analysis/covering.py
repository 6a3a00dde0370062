"""What of a picture must not be seen when a swing is shown to others: the golfer's head, other people, the rest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from analysis.types import JOINTS, Floats

HEAD_JOINTS = ("nose", "left_ear", "right_ear")
SEEN = 0.3
# Shares of a person's height, from memory of Drillis and Contini's segment lengths (as printed in Winter, Biomechanics
# and Motor Control of Human Movement): shoulder at 0.818, ankle at 0.039; chin to crown 0.130.
SHOULDER_TO_ANKLE = 0.818 - 0.039
HEAD_LENGTH = 0.130
# The disc around the middle of nose and ears is two heads wide: for hair, caps and a pose that errs.
HEAD_RADIUS = HEAD_LENGTH
# A head stands within this of the shoulders' middle; what lies farther away is no head.
FROM_SHOULDERS = 0.40
# Arms and a driver (some 1.15 m) around the hands; room above and below the joints' box.
CLUB_REACH, ABOVE, BELOW = 0.66, 0.22, 0.10
# Where the head is not seen, neighbours this near in time stand for it, widened.
NEIGHBOURS_US = 100_000
WIDENED = 1.5
SAME_PERSON = 0.25
AROUND_OTHERS = 0.25


@dataclass(frozen=True, slots=True)
class Disc:
    """Pixels from the left and the top."""

    x: float
    y: float
    radius: float


@dataclass(frozen=True, slots=True)
class Cover:
    """One frame's cover.

    Attributes
    ----------
    head : tuple of Disc
        Their convex hull is covered; empty where the whole frame is.
    whole : bool
    widened : bool
        The head was not seen here, its neighbours stand for it.
    """

    head: tuple[Disc, ...] = ()
    whole: bool = False
    widened: bool = False


@dataclass(frozen=True, slots=True)
class Body:
    """The golfer over a clip: ``t_us`` (T,), named joints (T, 3) as px, px, confidence 0..1, and body height in px."""

    t_us: Floats
    joints: dict[str, Floats]
    height_px: float


def body_of(tracks: Sequence[Mapping[str, Any]], size: tuple[int, int]) -> Body | None:
    """The golfer's joints out of the stored lines of one or several swings of a clip.

    Parameters
    ----------
    tracks : sequence of mapping
        Each with ``t_us`` (T,) and ``joints``: name to T entries ``[x, y, confidence]`` in shares of the picture, or
        None.
    size : (int, int)
        Width and height, px.

    Returns
    -------
    Body or None
        None where no frame shows enough of a body to tell its height.
    """
    times = np.concatenate([np.asarray(each["t_us"], float) for each in tracks] or [np.zeros(0)])
    names = sorted({name for each in tracks for name in each["joints"]})
    joints = {
        name: np.concatenate([_rows(each["joints"].get(name), len(each["t_us"]), size) for each in tracks])
        for name in names
    }
    order = np.argsort(times, kind="stable")
    joints = {name: rows[order] for name, rows in joints.items()}
    height = _height_px(joints)
    return None if height is None else Body(times[order], joints, height)


def _rows(found: Sequence[Any] | None, count: int, size: tuple[int, int]) -> Floats:
    rows = np.full((count, 3), np.nan)
    rows[:, 2] = 0.0
    for number, row in enumerate(found or ()):
        if row is not None and row[0] is not None and row[1] is not None:
            rows[number] = row[0] * size[0], row[1] * size[1], row[2]
    return rows


def _seen(rows: Floats) -> Floats:
    """(T, 2) places, NaN where the joint is not seen."""
    return np.where((rows[:, 2] >= SEEN)[:, None], rows[:, :2], np.nan)


def _height_px(joints: Mapping[str, Floats]) -> float | None:
    """From the shoulder-to-ankle chain of the better seen side; a bent or turned body only ever looks shorter."""
    chains = []
    for side in ("left", "right"):
        names = [f"{side}_{name}" for name in ("shoulder", "hip", "knee", "ankle")]
        if all(name in joints for name in names):
            places = [_seen(joints[name]) for name in names]
            pairs = pairwise(places)
            chains.append(sum(np.hypot(*(b - a).T) for a, b in pairs))
    lengths = np.concatenate(chains) if chains else np.zeros(0)
    lengths = lengths[np.isfinite(lengths)]
    return float(np.quantile(lengths, 0.9)) / SHOULDER_TO_ANKLE if len(lengths) else None


def _middle(places: list[Floats]) -> Floats:
    """Mean over those that are seen, (T, 2)."""
    stack = np.array(places)
    count = np.isfinite(stack[..., 0]).sum(axis=0)
    total = np.nansum(stack, axis=0)
    return np.where(count[:, None] > 0, total / np.maximum(count, 1)[:, None], np.nan)


def heads_of(body: Body, margin: float) -> list[Disc | None]:
    """Row by row of the tracks: the disc over the head, None where it is not seen or can't be one.

    Parameters
    ----------
    body : Body
    margin : float
        1 to 3; the disc's radius is so many head lengths.
    """
    if not 1 <= margin <= 3:
        raise ValueError(f"margin must be in 1..3, got {margin}")
    head = _middle([_seen(body.joints[name]) for name in HEAD_JOINTS if name in body.joints])
    shoulders = _middle(
        [
            _seen(body.joints[f"{side}_shoulder"])
            for side in ("left", "right")
            if f"{side}_shoulder" in body.joints
        ]
    )
    away = np.hypot(*(head - shoulders).T)
    radius = margin * HEAD_RADIUS * body.height_px
    good = np.isfinite(head[:, 0]) & ~(away > FROM_SHOULDERS * body.height_px)
    return [Disc(float(x), float(y), radius) if ok else None for (x, y), ok in zip(head, good, strict=True)]


def covers(frames_us: Sequence[int], body: Body | None, margin: float) -> list[Cover]:
    """How each frame is covered.

    Parameters
    ----------
    frames_us : sequence of int
        Times of the film's frames, rising, microseconds.
    body : Body or None
        None covers every frame wholly.
    margin : float
        See `heads_of`.

    Returns
    -------
    list of Cover
        A frame with a seen head has the discs of its neighbours beside its own, so that a fast head can't slip out
        between two; one without has its neighbours' within 0.1 s, widened; and one without those is covered wholly.
    """
    if body is None:
        return [Cover(whole=True) for _ in frames_us]
    heads = heads_of(body, margin)
    step = float(np.median(np.diff(frames_us))) if len(frames_us) > 1 else 0.0
    return [_cover(float(us), body.t_us, heads, step) for us in frames_us]


def _cover(us: float, t_us: Floats, heads: list[Disc | None], step: float) -> Cover:
    near = [row for row in range(len(t_us)) if abs(t_us[row] - us) <= 1.6 * step and heads[row] is not None]
    is_own = any(abs(t_us[row] - us) <= 0.75 * step for row in near)
    if is_own:
        return Cover(tuple(_disc(heads, row) for row in near))
    rows = [
        row for row in range(len(t_us)) if abs(t_us[row] - us) <= NEIGHBOURS_US and heads[row] is not None
    ]
    if not rows:
        return Cover(whole=True)
    discs = [_disc(heads, row) for row in rows]
    return Cover(tuple(Disc(d.x, d.y, WIDENED * d.radius) for d in discs), widened=True)


def _disc(heads: list[Disc | None], row: int) -> Disc:
    disc = heads[row]
    assert disc is not None
    return disc


def body_points(body: Body, us: float) -> Floats:
    """The golfer's seen joints in the row nearest to ``us`` (microseconds), (N, 2) px."""
    row = int(np.argmin(np.abs(body.t_us - us)))
    places = np.concatenate([_seen(rows[row : row + 1]) for rows in body.joints.values()])
    return np.asarray(places[np.isfinite(places[:, 0])])


def region_of(body: Body, size: tuple[int, int]) -> tuple[int, int, int, int]:
    """The golfer with arms and club over all frames: left, top, right, bottom in px; the rest is covered."""
    points = np.concatenate([_seen(rows) for rows in body.joints.values()])
    hands = np.concatenate(
        [_seen(body.joints[f"{s}_wrist"]) for s in ("left", "right") if f"{s}_wrist" in body.joints]
    )
    tall = body.height_px
    # A single stray row doesn't open the picture to the neighbours' bays.
    low, high = np.nanquantile(points, 0.005, axis=0), np.nanquantile(points, 0.995, axis=0)
    reach = CLUB_REACH * tall
    wrist_low, wrist_high = np.nanquantile(hands, 0.005, axis=0), np.nanquantile(hands, 0.995, axis=0)
    left = min(low[0] - 0.1 * tall, wrist_low[0] - reach)
    right = max(high[0] + 0.1 * tall, wrist_high[0] + reach)
    top = min(low[1] - ABOVE * tall, wrist_low[1] - reach)
    bottom = high[1] + BELOW * tall
    width, height = size
    return (
        max(0, int(left)),
        max(0, int(top)),
        min(width, int(np.ceil(right))),
        min(height, int(np.ceil(bottom))),
    )


def others_among(
    people: Sequence[tuple[Floats, Floats]], body: Body, us: float
) -> list[tuple[float, float, float, float]]:
    """Boxes (left, top, right, bottom; px) of the people found in one frame who are not the golfer.

    Parameters
    ----------
    people : sequence of (xy, confidence)
        As `analysis.adapters.pose.PoseFinder.find_all` gives them.
    body : Body
    us : float
        Time of the frame, microseconds.
    """
    row = int(np.argmin(np.abs(body.t_us - us)))
    trunk = [f"{side}_{name}" for side in ("left", "right") for name in ("shoulder", "hip")]
    own = _middle([_seen(body.joints[name])[row : row + 1] for name in trunk if name in body.joints])[0]
    boxes = []
    for xy, confidence in people:
        seen = xy[confidence >= SEEN]
        if len(seen) < 3 or _is_golfer(xy, own, body.height_px):
            continue
        low, high = seen.min(axis=0), seen.max(axis=0)
        room = AROUND_OTHERS * max(high - low)
        boxes.append((*(low - room), *(high + room)))
    return [(float(a), float(b), float(c), float(d)) for a, b, c, d in boxes]


def _is_golfer(xy: Floats, own: Floats, height_px: float) -> bool:
    rows = [JOINTS.index(f"{side}_{name}") for side in ("left", "right") for name in ("shoulder", "hip")]
    away = float(np.hypot(*(xy[rows].mean(axis=0) - own)))
    return away <= SAME_PERSON * height_px
