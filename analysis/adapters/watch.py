"""Watching one swing of a clip closely: pose, club and ball at full rate."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analysis.adapters.ball_watch import BallWatch, Region, ball_region
from analysis.adapters.club_net import Crop, crop_around
from analysis.adapters.club_watch import ClubWatch
from analysis.adapters.people import find_in
from analysis.adapters.pose import PoseFinder
from analysis.adapters.pose_rows import PoseRows
from analysis.adapters.stopwatch import Stopwatch
from analysis.adapters.video import Frame, Probe, decode
from analysis.body import middle, stature_px
from analysis.quality import Look
from analysis.scout import SwingWindow, address_part
from analysis.tracks import SwingTracks
from analysis.types import BallMark, ClubTrack, PoseTrack

# The networks see 256 pixels of the golfer, who fills half of such a picture and more: larger ones cost more to paint.
LONG_EDGE = 960
MEASURE_HZ = 75.0
# Poses on the way back and in the follow-through.
SLOW_HZ = 30.0
PREFETCH = 6
# The ground is watched until so long after the first guess of the takeaway.
GROUND_S = 0.6
Progress = Callable[[float], None]


def prefetched(frames: Iterator[Frame], depth: int = PREFETCH) -> Iterator[Frame]:
    """The same frames, decoded ahead in a second thread; errors arrive here."""
    box: queue.Queue[Frame | BaseException | None] = queue.Queue(maxsize=depth)
    stop = threading.Event()

    def put(item: Frame | BaseException | None) -> None:
        while not stop.is_set():
            try:
                box.put(item, timeout=0.2)
                return
            except queue.Full:
                continue

    def work() -> None:
        try:
            for frame in frames:
                put(frame)
                if stop.is_set():
                    return
            put(None)
        except BaseException as error:
            put(error)

    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    try:
        while (item := box.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            yield item
    finally:
        stop.set()
        thread.join(timeout=5)


@dataclass(frozen=True, slots=True)
class _Schedule:
    """Which frames of the window get a pose of their own and which a look for the club.

    Before and after the swing the coarse pass's poses serve.
    """

    window: SwingWindow
    stride: int
    fine: int
    rate_hz: float

    def phase(self, t_s: float) -> str:
        w = self.window
        if t_s < w.takeaway_s - 0.2 * w.stretch:
            return "rest"
        if t_s <= w.impact_s + 0.3 * w.stretch:
            return "swing"
        return "after"

    def pose(self, i: int, t_s: float) -> bool:
        w = self.window
        if self.phase(t_s) != "swing":
            return False
        slow = t_s < w.top_s - 0.25 * w.stretch or t_s > w.impact_s + 0.12 * w.stretch
        step = max(1, round(self.rate_hz / SLOW_HZ)) if slow else 1
        return i % (self.stride * step) == 0

    def club(self, i: int, t_s: float) -> bool:
        w = self.window
        if abs(t_s - w.impact_s) <= 0.2 * w.stretch:
            return i % self.fine == 0
        step = {"rest": 2, "swing": 1, "after": 2}[self.phase(t_s)]
        return i % (self.stride * step) == 0


def _schedule(window: SwingWindow, fps: float) -> _Schedule:
    real_fps = fps * window.stretch
    stride = max(1, round(real_fps / MEASURE_HZ))
    return _Schedule(window, stride, max(1, round(real_fps / 2 / MEASURE_HZ)), real_fps / stride)


def watch_swing(
    path: Path,
    clip: Probe,
    look: Look,
    window: SwingWindow,
    view: str,
    handedness: str,
    progress: Progress,
    stopwatch: Stopwatch,
    finder: PoseFinder,
) -> SwingTracks:
    """Pose, club and ball of one swing at full rate.

    Parameters
    ----------
    path, clip, look : the clip and what the coarse pass saw
    window : SwingWindow
    view, handedness : str
    progress : callable
        Gets the share done, 0..1.
    stopwatch : Stopwatch
        Gets the seconds spent on the club, which is looked for in a second thread.
    finder : PoseFinder
        A fresh one, or one that forgot.
    """
    plan = _schedule(window, clip.nominal_fps)
    address = address_part(look.pose, window)
    height = stature_px(address)
    ground_until_s = window.takeaway_s + GROUND_S * window.stretch
    worker = ClubWatch(_crop(address, height), plan.stride, height, window.stretch, ground_until_s, stopwatch)
    ball = BallWatch(_ball_region(address, height, view), height)
    rows = PoseRows()
    coarse = dict(
        zip(look.pose.t_s.tolist(), zip(look.pose.xy, look.pose.confidence, strict=True), strict=True)
    )
    frames = decode(path, long_edge=LONG_EDGE, start_s=window.start_s, end_s=window.end_s + 1e-6)
    span = max(1e-6, window.end_s - window.start_s)
    try:
        for i, frame in enumerate(prefetched(frames)):
            worker.add(frame, plan.club(i, frame.t_s))
            if window.takeaway_s < frame.t_s < window.impact_s + 0.65 * window.stretch:
                ball.keep(frame.t_s, frame.rgb)
            if plan.pose(i, frame.t_s):
                rows.add(frame.t_s, find_in(finder, frame.rgb, frame.t_s, look.region))
            elif plan.phase(frame.t_s) != "swing" and frame.t_s in coarse:
                rows.add(frame.t_s, coarse[frame.t_s])
            progress((frame.t_s - window.start_s) / span)
        pose = rows.track(look.pose.width, look.pose.height)
        club = worker.finish(pose)
        ground_t_s, ground_xy = worker.ground(_knees(address))
    finally:
        worker.close()
    mark = _find_ball(ball, club, window)
    guess = {
        "takeaway": window.takeaway_s,
        "top": window.top_s,
        "impact": mark.gone_s if np.isfinite(mark.gone_s) else window.impact_s,
        "finish": window.finish_s,
    }
    return SwingTracks(
        pose=pose,
        club=club,
        ball=mark,
        view=view,
        handedness=handedness,
        fps=clip.nominal_fps / plan.stride,
        guess=guess,
        stretch=window.stretch,
        is_timed=window.is_timed,
        motion_t_s=worker.motion()[:, 0],
        motion=worker.motion()[:, 1],
        ground_t_s=ground_t_s,
        ground_xy=ground_xy,
    )


def _knees(address: PoseTrack) -> float:
    """Row of the picture where the knees are at address."""
    return float(np.nanmedian(np.concatenate([address.joint(f"{s}_knee")[:, 1] for s in ("left", "right")])))


def _crop(address: PoseTrack, height: float) -> Crop:
    parts = [np.nanmedian(middle(address, p), axis=0) for p in ("shoulder", "hip", "ankle")]
    toes = np.nanmedian(
        np.maximum(address.joint("left_foot_index"), address.joint("right_foot_index")), axis=0
    )
    heels = np.nanmedian(np.maximum(address.joint("left_heel"), address.joint("right_heel")), axis=0)
    return crop_around(float(np.mean([p[0] for p in parts])), float(max(toes[1], heels[1])), height)


def _ball_region(address: PoseTrack, height: float, view: str) -> Region:
    toes = np.stack([np.nanmedian(address.joint(f"{s}_foot_index"), axis=0) for s in ("left", "right")])
    hands = np.nanmedian(middle(address, "wrist"), axis=0)
    return ball_region(toes, hands, height, view, address.width, address.height)


def _find_ball(ball: BallWatch, club: ClubTrack, window: SwingWindow) -> BallMark:
    rest = (club.t_s <= window.takeaway_s) & (club.confidence >= 0.6)
    near = np.median(club.head_xy[rest], axis=0) if rest.sum() >= 2 else None
    return ball.find(window.takeaway_s, window.top_s, window.impact_s, near, window.stretch)
