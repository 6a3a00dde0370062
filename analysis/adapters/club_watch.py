"""Looking for the club beside the poses: the network in its own thread, or among lines where it is missing."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

import numpy as np

from analysis.adapters.club_net import WHOLE_SQUARE, Crop, ShaftGlimpse, ShaftNet, cut, halved
from analysis.adapters.ground_watch import ground_steps
from analysis.adapters.shaft_lines import ShaftEvidence, background, shaft_evidence
from analysis.adapters.stopwatch import Stopwatch
from analysis.adapters.video import Frame
from analysis.club.search import search_track
from analysis.club.steady import steadied
from analysis.types import JOINT_INDEX, ClubTrack, Floats, PoseTrack

LINES_STATURE_PX = 236.0
_LIMBS = (("elbow", "wrist"), ("shoulder", "elbow"), ("hip", "knee"), ("knee", "ankle"), ("shoulder", "hip"))
_SIDES = ("left", "right")
_HAND_PAST_WRIST = 0.25
_MEAN = np.full((1, 3), 1 / 3)


def picture_motion(now: np.ndarray, before: np.ndarray) -> float:
    """Mean change of brightness beyond the noise (10 grey levels) between two crops."""
    import cv2

    change = cv2.absdiff(cv2.transform(now, _MEAN), cv2.transform(before, _MEAN))
    return float(np.maximum(change, 10).mean()) - 10


class ClubWatch:
    """Looks for the club while the main thread finds poses.

    Parameters
    ----------
    crop : Crop
        The square around the golfer.
    gap : int
        Frames between a frame and the neighbours shown with it.
    stature_px : float
        Standing height in picture pixels.
    stretch : float
        Slow-motion factor of the clip.
    ground_until_s : float
        Seconds of the clip until which the ground is watched.
    stopwatch : Stopwatch
        Gets the seconds spent on the club.
    """

    def __init__(
        self,
        crop: Crop,
        gap: int,
        stature_px: float,
        stretch: float,
        ground_until_s: float,
        stopwatch: Stopwatch,
    ) -> None:
        self._crop, self._gap, self._stopwatch = crop, gap, stopwatch
        self._stature, self._stretch, self._ground_until_s = stature_px, stretch, ground_until_s
        # Neither network nor lines need more than this; halving first makes the rest three times as quick.
        self._times_smaller = 2 if stature_px >= 2 * LINES_STATURE_PX else 1
        self._near = crop.shrunk(self._times_smaller)
        self._part = WHOLE_SQUARE
        self._pool = ThreadPoolExecutor(max_workers=1)
        with stopwatch.stage("club"):
            self._net = _open_net()
        self._crops: list[np.ndarray] = []
        self._greys: list[np.ndarray] = []
        self._times: list[float] = []
        self._wanted: list[int] = []
        self._sent = 0
        self._answers: list[Future[ShaftGlimpse | None]] = []
        self._motion: list[tuple[float, float]] = []

    def add(self, frame: Frame, wanted: bool) -> None:
        """Keep the crop; frames whose later neighbour has arrived are sent to the network."""
        self._part = self._crop.inside(frame.rgb.shape[1], frame.rgb.shape[0])
        rgb = self._smaller(frame.rgb)
        self._crops.append(cut(rgb, self._near))
        # The lines, which have to do where there is no network, need all of them.
        if self._net is None or frame.t_s <= self._ground_until_s:
            self._greys.append(self._small_grey(rgb))
        self._times.append(frame.t_s)
        if (len(self._crops) - 1) % self._gap == 0 and len(self._crops) > self._gap:
            changed = picture_motion(self._crops[-1], self._crops[-1 - self._gap])
            self._motion.append((frame.t_s, changed))
        if wanted:
            self._wanted.append(len(self._crops) - 1)
        self._send(len(self._crops) - 1 - self._gap)

    def _smaller(self, rgb: np.ndarray) -> np.ndarray:
        return rgb if self._times_smaller == 1 else halved(rgb)

    def _small_grey(self, rgb: np.ndarray) -> np.ndarray:
        """The part of the picture inside the crop, grey, the golfer about 236 pixels tall."""
        import cv2

        x0, y0 = self._corner
        part = rgb[y0 : int(self._near.y + self._near.side), x0 : int(self._near.x + self._near.side)]
        scale = self._grey_scale * self._times_smaller
        size = (max(1, round(part.shape[1] * scale)), max(1, round(part.shape[0] * scale)))
        grey = cv2.cvtColor(np.ascontiguousarray(part), cv2.COLOR_RGB2GRAY)
        # Less than half the size is never asked for.
        return np.asarray(cv2.resize(grey, size))

    @property
    def _grey_scale(self) -> float:
        return min(1.0, LINES_STATURE_PX / self._stature)

    @property
    def _corner(self) -> tuple[int, int]:
        """Left and top of the part that is kept in grey, in pixels of the smaller picture."""
        return max(0, int(self._near.x)), max(0, int(self._near.y))

    def _send(self, last: int) -> None:
        while self._sent < len(self._wanted) and self._wanted[self._sent] <= last:
            i = self._wanted[self._sent]
            before, after = self._neighbours(self._crops, i)
            self._answers.append(self._pool.submit(self._look, self._crops[i], before, after))
            self._sent += 1

    def _neighbours(self, pictures: list[np.ndarray], i: int) -> tuple[np.ndarray, np.ndarray]:
        return pictures[max(0, i - self._gap)], pictures[min(len(pictures) - 1, i + self._gap)]

    def _look(self, now: np.ndarray, before: np.ndarray, after: np.ndarray) -> ShaftGlimpse | None:
        with self._stopwatch.stage("club"):
            return None if self._net is None else self._net.look(now, before, after, self._crop, self._part)

    def finish(self, pose: PoseTrack) -> ClubTrack:
        """Wait for the network; without one, search among lines.

        Parameters
        ----------
        pose : PoseTrack
            The golfer in the same frames: the lines need the hands.
        """
        self._send(len(self._crops) - 1)
        seen = [answer.result() for answer in self._answers]
        self._pool.shutdown()
        if not seen:
            return ClubTrack.empty()
        t_s = np.array([self._times[i] for i in self._wanted])
        if self._net is not None:
            return steadied(_network_track(t_s, seen), self._stature, self._stretch)
        with self._stopwatch.stage("club"):
            return self._lines(t_s, pose, background(self._greys))

    def _lines(self, times: Floats, pose: PoseTrack, still: Any) -> ClubTrack:
        """Search among lines alone."""
        hands, limbs = (self._to_grey(x) for x in hands_and_limbs(pose, times))
        sure = np.asarray(np.isfinite(hands).all((1, 2)))
        if not sure.any():
            return ClubTrack.empty()
        stature = self._stature * self._grey_scale
        evidence = []
        for k, i in enumerate(self._wanted):
            if not sure[k]:
                evidence.append(ShaftEvidence.nothing())
                continue
            before, after = self._neighbours(self._greys, i)
            evidence.append(shaft_evidence(self._greys[i], before, after, still, hands[k], limbs[k], stature))
        found = search_track(times, evidence, np.nan_to_num(hands), stature)
        return ClubTrack(
            times,
            found.deg,
            found.confidence,
            self._from_grey(found.grip_xy),
            self._from_grey(found.head_xy),
            found.head_confidence,
            found.by_lines,
        )

    def _to_grey(self, xy: Floats) -> Floats:
        corner = self._times_smaller * np.array(self._corner)
        return np.asarray((xy - corner + 0.5) * self._grey_scale - 0.5)

    def _from_grey(self, xy: Floats) -> Floats:
        corner = self._times_smaller * np.array(self._corner)
        return np.asarray((xy + 0.5) / self._grey_scale - 0.5 + corner)

    def ground(self, knees_y: float) -> tuple[Floats, Floats]:
        """Times (G,) and places (G, 2) of the ground against the first frame, pixels.

        Parameters
        ----------
        knees_y : float
            Row of the picture below which the ground, and what stands on it, is looked at.
        """
        t_s = np.array(self._times)
        count = int((t_s <= self._ground_until_s).sum())
        top = int(self._to_grey(np.array([0.0, knees_y]))[1])
        return t_s[:count], ground_steps(self._greys[:count], max(0, top)) / self._grey_scale

    def motion(self) -> Floats:
        """Times and frame-to-frame change (M, 2)."""
        return np.array(self._motion).reshape(-1, 2)

    def close(self) -> None:
        """Drop what is still waiting."""
        self._pool.shutdown(wait=True, cancel_futures=True)


def _open_net() -> ShaftNet | None:
    """The network, or nothing when its file is missing or altered: then the lines have to do."""
    try:
        return ShaftNet()
    except ValueError:
        return None


def _network_track(t_s: Floats, seen: list[ShaftGlimpse | None]) -> ClubTrack:
    nothing = ShaftGlimpse(0.0, 0.0, np.zeros(2), np.zeros(2), 0.0, 0.0, 0.0, 0.0)
    rows = [nothing if g is None else g for g in seen]
    columns: list[Any] = [
        np.array([getattr(g, name) for g in rows])
        for name in ("deg", "confidence", "grip_xy", "head_xy", "head_confidence")
    ]
    return ClubTrack(t_s, *columns)


def hands_and_limbs(pose: PoseTrack, t_s: Floats) -> tuple[Floats, Floats]:
    """Possible places of the hands (K, 5, 2) and limbs (K, 10, 2, 2) at other times, pixels.

    The hands: on each side between wrist and index knuckle, and the forearm made longer by a quarter; and the
    middle of both sides. Joints are interpolated between the frames that have them; a median over three frames
    takes out single jumps. The first two limbs are the forearms.
    """
    xy = np.full((len(t_s), pose.xy.shape[1], 2), np.nan)
    known = np.isfinite(pose.xy).all((1, 2))
    if known.any():
        for j in range(xy.shape[1]):
            for d in (0, 1):
                xy[:, j, d] = np.interp(t_s, pose.t_s[known], pose.xy[known, j, d])

    def joint(side: str, name: str) -> Floats:
        return np.asarray(xy[:, JOINT_INDEX[f"{side}_{name}"]])

    places = []
    for side in _SIDES:
        wrist = joint(side, "wrist")
        places.append((wrist + joint(side, "index")) / 2)
        places.append(wrist + _HAND_PAST_WRIST * (wrist - joint(side, "elbow")))
    hands = np.stack([*places, (places[0] + places[2]) / 2], 1)
    padded = np.concatenate([hands[:1], hands, hands[-1:]])
    hands = np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0)
    limbs = [np.stack([joint(s, a), joint(s, b)], 1) for a, b in _LIMBS for s in _SIDES]
    return hands, np.stack(limbs, 1)
