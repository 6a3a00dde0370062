"""The coarse pass over a clip: who the golfer is, and what the picture is like."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack, nullcontext
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analysis.adapters.coarseness import quantiser_of
from analysis.adapters.motion_map import StillPose, moving_region
from analysis.adapters.people import Person, find_in, people_in, region_of, same_body, usual_box
from analysis.adapters.picture_checks import camera_step, luma_of, shake_of, sharpness_of, small_grey
from analysis.adapters.pose import PoseFinder
from analysis.adapters.pose_rows import PoseRows
from analysis.adapters.video import Frame, Probe, decode
from analysis.adapters.watch import LONG_EDGE, prefetched
from analysis.quality import Box, Look, golfer_seen
from analysis.scout import choose_golfer, find_swings
from analysis.types import Floats, PoseTrack

SCOUT_HZ = 12.0
PEOPLE_PICTURES = 3
LIGHT_PICTURES = 8
Progress = Callable[[float], None]


class _PictureNotes:
    """What is kept of the pictures while they pass: light, sharpness, steps of the camera, a few whole ones."""

    def __init__(self, total: int) -> None:
        self.lumas: list[float] = []
        self.sharp: list[float] = []
        self.samples: list[np.ndarray] = []
        self._light_every = max(1, total // LIGHT_PICTURES)
        self._kept = {int((k + 0.5) * total / PEOPLE_PICTURES) for k in range(PEOPLE_PICTURES)}
        self.small: list[np.ndarray] = []
        self._boxes: list[Box] = []

    def add(self, count: int, frame: Frame, grey: np.ndarray, xy: Floats) -> None:
        if count % self._light_every == 0:
            self.lumas.append(luma_of(frame.rgb, xy))
            self.sharp.append(sharpness_of(frame.rgb, xy))
        if count in self._kept:
            self.samples.append(frame.rgb)
        self.small.append(grey)
        self._boxes.append(_share_box(xy, frame.rgb.shape[1], frame.rgb.shape[0]))

    def steps(self) -> Floats:
        """Steps of the camera between neighbouring pictures (N - 1, 2)."""
        pairs = zip(self.small[:-1], self.small[1:], self._boxes[:-1], self._boxes[1:], strict=True)
        steps = [camera_step(a, b, [box, other]) for a, b, box, other in pairs]
        return np.array(steps).reshape(-1, 2)


def _share_box(xy: Floats, width: int, height: int) -> Box:
    if not np.isfinite(xy).all():
        return 0.0, 0.0, 0.0, 0.0
    (x0, y0), (x1, y1) = xy.min(0) / [width, height], xy.max(0) / [width, height]
    return float(x0) - 0.05, float(y0) - 0.05, float(x1) + 0.05, float(y1) + 0.05


def scout(path: Path, clip: Probe, progress: Progress, finder: PoseFinder | None = None) -> Look:
    """Pose at about 12 frames a second over the whole clip, who is in it, light, sharpness, steadiness.

    The network runs where the golfer moves; while nothing around the joints changes, the last pose stands.

    Parameters
    ----------
    path : Path
    clip : Probe
        From ``video.probe``.
    progress : callable
        Gets the share done, 0..1.
    finder : PoseFinder, optional
        A fresh one, or one that forgot.

    Returns
    -------
    Look
        With several people, the pose is that of the one who swings.
    """
    every = max(1, round(clip.nominal_fps / SCOUT_HZ))
    total = max(1, -(-clip.frame_count // every))
    rows, notes, still = PoseRows(), _PictureNotes(total), StillPose()
    width, height = clip.width, clip.height
    with nullcontext(finder) if finder else PoseFinder() as follower:
        for count, frame in enumerate(prefetched(decode(path, long_edge=LONG_EDGE, every=every))):
            height, width = frame.rgb.shape[:2]
            grey = small_grey(frame.rgb)
            if still.stands(grey, frame.t_s):
                rows.hold(frame.t_s)
            else:
                rows.add(frame.t_s, follower.find(frame.rgb, frame.t_s))
                still.found(grey, frame.t_s, rows.xy[-1], width, height)
            notes.add(count, frame, grey, rows.xy[-1])
            progress(min(1.0, (count + 1) / total))
    seen = _Seen(rows.track(width, height), tuple(people_in(notes.samples)))
    if len(seen.people) > 1:
        seen = _choose(path, every, seen)
    if not find_swings(seen.pose):
        seen = _elsewhere(path, every, seen, notes)
    return Look(
        pose=seen.pose,
        luma=float(np.median(notes.lumas)) if notes.lumas else 0.0,
        sharpness=float(np.percentile(notes.sharp, 75)) if notes.sharp else 0.0,
        shake=shake_of(notes.steps(), _usual_step(seen.pose.t_s)),
        people=tuple(p.box for p in seen.people),
        golfer=seen.golfer if seen.people else None,
        rivals=seen.rivals,
        region=seen.region,
        quantiser=quantiser_of(path, clip),
    )


@dataclass(frozen=True, slots=True)
class _Seen:
    """The track taken for the golfer's, everybody in the picture, and which of them it is."""

    pose: PoseTrack
    people: tuple[Person, ...]
    golfer: int = 0
    rivals: int = 0
    region: Box | None = None


def _choose(path: Path, every: int, seen: _Seen) -> _Seen:
    """Of several people the one who swings."""
    size = seen.pose.width, seen.pose.height
    regions = [region_of(p, [o for o in seen.people if o is not p], *size) for p in seen.people]
    tracks = _tracks_in(path, every, regions, *size)
    choice = choose_golfer(tracks)
    return _Seen(tracks[choice.golfer], seen.people, choice.golfer, choice.rivals, regions[choice.golfer])


def _elsewhere(path: Path, every: int, seen: _Seen, notes: _PictureNotes) -> _Seen:
    """Someone small or hidden among others who swings where something moves; else what was seen before."""
    width, height = seen.pose.width, seen.pose.height
    scale = np.array([width, height, width, height], float)
    known = [_with_room(np.array(p.box) / scale) for p in seen.people]
    moving = moving_region(notes.small, known)
    if moving is None:
        return seen
    x0, y0, x1, y1 = (int(v) for v in np.array(moving) * scale)
    region = (float(x0), float(y0), float(x1), float(y1))
    (track,) = _tracks_in(path, every, [region], width, height)
    if not golfer_seen(track) or (seen.people and not find_swings(track)):
        return seen
    golfer = Person(usual_box(track), len(notes.samples))
    others = tuple(p for p in seen.people if not same_body(p.box, golfer.box))
    return _Seen(track, (*others, golfer), len(others), 0, region)


def _with_room(box: Floats) -> Box:
    x0, y0, x1, y1 = (float(v) for v in box)
    return x0 - 0.05, y0 - 0.05, x1 + 0.05, y1 + 0.05


def _tracks_in(path: Path, every: int, regions: list[Box], width: int, height: int) -> list[PoseTrack]:
    """A coarse track of whoever is in each part of the picture."""
    rows = [PoseRows() for _ in regions]
    with ExitStack() as stack:
        finders = [stack.enter_context(PoseFinder()) for _ in regions]
        for frame in prefetched(decode(path, long_edge=LONG_EDGE, every=every)):
            for finder, region, row in zip(finders, regions, rows, strict=True):
                row.add(frame.t_s, find_in(finder, frame.rgb, frame.t_s, region))
    return [row.track(width, height) for row in rows]


def _usual_step(t_s: Floats) -> float:
    return float(np.median(np.diff(t_s))) if len(t_s) > 1 else 0.0
