"""Watching the place where the ball lies: small grey patches of each frame, and when the ball left."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from analysis.types import FACE_ON, BallMark, Floats

BALL_RADIUS_HEIGHTS = 0.0122  # 21.3 mm (Rules of Golf: at least 42.67 mm across) on a stature of 1.75 m
CANDIDATES = 8
PRESENT = 0.3
MIN_CONTRAST = 6.0
# What vanishes far from the clubhead's place at address counts this little: a white shoe that lifts is brighter than
# the ball. The second number is how far off that is, in shares of the standing height.
FAR_FROM_HEAD, NEAR_HEAD_HEIGHTS = 0.1, 0.12
# A struck ball lay within 0.08 of the standing height from the clubhead on 139 rendered clips.
MOST_FROM_HEAD_HEIGHTS = 0.16
# The coarse pass places impact within 0.05 s on 106 rendered clips; what vanishes further off is no struck ball.
IMPACT_REACH_S = 0.13


@dataclass(frozen=True, slots=True)
class Region:
    """A box of the upright picture in whole pixels, ``x0 <= x < x1``."""

    x0: int
    y0: int
    x1: int
    y1: int


def ball_region(
    toes_xy: Floats, hands_xy: Floats, stature_px: float, view: str, width: int, height: int
) -> Region:
    """Where a ball can lie, seen from the feet.

    Parameters
    ----------
    toes_xy : ndarray of shape (2, 2)
        Both toe tips at address, pixels.
    hands_xy : ndarray of shape (2,)
        The hands at address.
    stature_px : float
        Standing height.
    view : str
        ``face_on``: in front of the toes is lower in the picture. ``dtl``: to the hands' side.
    width, height : int
        Picture size.
    """
    h = stature_px
    mid = toes_xy.mean(0)
    if view == FACE_ON:
        box = (mid[0] - 0.5 * h, toes_xy[:, 1].max() - 0.01 * h, mid[0] + 0.5 * h, mid[1] + 0.35 * h)
    else:
        side = 1.0 if hands_xy[0] > mid[0] - 0.02 * h else -1.0
        near, far = mid[0] + side * 0.06 * h, mid[0] + side * 0.75 * h
        box = (min(near, far), mid[1] - 0.2 * h, max(near, far), mid[1] + 0.16 * h)
    return Region(
        int(np.clip(box[0], 0, width - 2)),
        int(np.clip(box[1], 0, height - 2)),
        int(np.clip(box[2], 2, width)),
        int(np.clip(box[3], 2, height)),
    )


@dataclass(slots=True)
class BallWatch:
    """Keeps the grey patch of each frame and finds the frame in which the ball is gone."""

    region: Region
    stature_px: float
    _times: list[float] = field(default_factory=list)
    _patches: list[np.ndarray] = field(default_factory=list)

    def keep(self, t_s: float, rgb: np.ndarray) -> None:
        """Store the patch of one frame; frames come in order of time."""
        import cv2

        r = self.region
        patch = np.ascontiguousarray(rgb[r.y0 : r.y1, r.x0 : r.x1])
        self._times.append(t_s)
        self._patches.append(np.asarray(cv2.cvtColor(patch, cv2.COLOR_RGB2GRAY)))

    def find(
        self, takeaway_s: float, top_s: float, impact_s: float, near_xy: Floats | None, stretch: float = 1.0
    ) -> BallMark:
        """The ball's place and the time it left.

        Parameters
        ----------
        takeaway_s, top_s, impact_s : float
            Rough event times in seconds.
        near_xy : ndarray of shape (2,) or None
            The clubhead at address, pixels, if seen: the ball lies near it.
        stretch : float
            Slow-motion factor of the clip.

        Returns
        -------
        BallMark
            Unseen when nothing of a ball's size and brightness vanishes around ``impact_s``.
        """
        t = np.array(self._times)
        before = self._pick(t, takeaway_s + 0.4 * (top_s - takeaway_s), impact_s - 0.14 * stretch)
        after = self._pick(t, impact_s + 0.1 * stretch, impact_s + 0.5 * stretch)
        if len(before) < 2 or len(after) < 2:
            return BallMark.unseen()
        radius = max(1.5, BALL_RADIUS_HEIGHTS * self.stature_px)
        lost = self._blobs(self._median(before), radius) - self._blobs(self._median(after), radius)
        places = self._candidates(lost, radius, near_xy)
        marks = [self._history(place, radius, t, before, after, impact_s, stretch) for place in places]
        good = [mark for mark in marks if mark is not None]
        if not good:
            return BallMark.unseen()
        _score, (row, col), gone_s, half_gap_s = max(
            good, key=lambda mark: mark[0] * float(self._nearness(mark[1][0], mark[1][1], near_xy))
        )
        return BallMark(np.array([col + self.region.x0, row + self.region.y0], float), gone_s, half_gap_s)

    def _pick(self, t: Floats, start_s: float, end_s: float, most: int = 9) -> np.ndarray:
        index = np.flatnonzero((t >= start_s) & (t <= end_s))
        if index.size <= most:
            return index
        return np.asarray(index[np.linspace(0, index.size - 1, most).round().astype(int)])

    def _median(self, index: np.ndarray) -> np.ndarray:
        return np.asarray(np.median(np.stack([self._patches[i] for i in index]), axis=0), dtype=np.float32)

    def _blobs(self, grey: Any, radius: float) -> np.ndarray:
        """Bright spots of a ball's size: difference of two Gaussians, in grey levels."""
        import cv2

        image = np.asarray(grey, dtype=np.float32)
        narrow = cv2.GaussianBlur(image, (0, 0), 0.6 * radius, borderType=cv2.BORDER_REFLECT)
        wide = cv2.GaussianBlur(image, (0, 0), 1.8 * radius, borderType=cv2.BORDER_REFLECT)
        return np.asarray(narrow - wide)

    def _candidates(self, lost: np.ndarray, radius: float, near_xy: Floats | None) -> list[tuple[int, int]]:
        """Strongest separate maxima of the vanished brightness, weighed by the distance to the head."""
        weighed = lost.copy()
        if near_xy is not None:
            rows, cols = np.mgrid[: lost.shape[0], : lost.shape[1]]
            weighed = lost * self._nearness(rows, cols, near_xy)
        places: list[tuple[int, int]] = []
        reach = round(3 * radius)
        for _ in range(CANDIDATES):
            row, col = np.unravel_index(int(weighed.argmax()), weighed.shape)
            if lost[row, col] < MIN_CONTRAST or weighed[row, col] <= 0:
                break
            places.append((int(row), int(col)))
            weighed[max(0, row - reach) : row + reach + 1, max(0, col - reach) : col + reach + 1] = -np.inf
        return places

    def _nearness(self, row: Any, col: Any, near_xy: Floats | None) -> Floats:
        """Weight of a place by its distance from the clubhead at address: 1 there, 0 far off; 1 if that is unseen."""
        if near_xy is None:
            return np.ones(np.shape(row))
        away = np.hypot(col + self.region.x0 - near_xy[0], row + self.region.y0 - near_xy[1])
        near = np.exp(-((away / (NEAR_HEAD_HEIGHTS * self.stature_px)) ** 2))
        weight = FAR_FROM_HEAD + (1 - FAR_FROM_HEAD) * near
        return np.where(away <= MOST_FROM_HEAD_HEIGHTS * self.stature_px, weight, 0.0)

    def _history(
        self,
        place: tuple[int, int],
        radius: float,
        t: Floats,
        before: np.ndarray,
        after: np.ndarray,
        impact_s: float,
        stretch: float,
    ) -> tuple[float, tuple[int, int], float, float] | None:
        """Follow one place through time: a ball is there until it is gone for good."""
        span = np.flatnonzero((t >= impact_s - 0.2 * stretch) & (t <= impact_s + 0.25 * stretch))
        level = {int(i): self._level(int(i), place, radius) for i in {*span, *before, *after}}
        high = float(np.median([level[int(i)] for i in before]))
        low = float(np.median([level[int(i)] for i in after]))
        if high - low < MIN_CONTRAST:
            return None
        there = {i: (value - low) / (high - low) > PRESENT for i, value in level.items()}
        steady = np.mean([there[int(i)] for i in before]) * np.mean([not there[int(i)] for i in after])
        seen = [int(i) for i in span if there[int(i)]]
        if not seen or seen[-1] + 1 >= len(t) or steady < 0.6:
            return None
        last = seen[-1]
        half_gap = float(t[last + 1] - t[last]) / 2
        if abs(float(t[last]) + half_gap - impact_s) > IMPACT_REACH_S * stretch:
            return None
        score = float((high - low) * steady**2)
        return score, place, float(t[last]) + half_gap, half_gap

    def _level(self, i: int, place: tuple[int, int], radius: float) -> float:
        """Strongest ball-sized spot within a ball's width of the place (the camera may shake)."""
        margin, reach = round(6 * radius), round(1.3 * radius)
        row, col = place
        patch = self._patches[i]
        r0, c0 = max(0, row - margin), max(0, col - margin)
        blobs = self._blobs(patch[r0 : row + margin + 1, c0 : col + margin + 1], radius)
        rr, cc = row - r0, col - c0
        near = blobs[max(0, rr - reach) : rr + reach + 1, max(0, cc - reach) : cc + reach + 1]
        return float(near.max())
