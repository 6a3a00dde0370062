"""Body landmarks from pictures: the only module that loads the pose library."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType, TracebackType
from typing import Any

import numpy as np

from analysis.adapters.digests import checked_model
from analysis.types import JOINTS, Floats

_LIBRARY_INDEX = {
    "nose": 0,
    "left_ear": 7,
    "right_ear": 8,
    "left_shoulder": 11,
    "right_shoulder": 12,
    "left_elbow": 13,
    "right_elbow": 14,
    "left_wrist": 15,
    "right_wrist": 16,
    "left_index": 19,
    "right_index": 20,
    "left_hip": 23,
    "right_hip": 24,
    "left_knee": 25,
    "right_knee": 26,
    "left_ankle": 27,
    "right_ankle": 28,
    "left_heel": 29,
    "right_heel": 30,
    "left_foot_index": 31,
    "right_foot_index": 32,
}
# The library wants times that rise. After a picture without anybody a second later it looks for people anew.
_FORGET_MS = 1000
_ROWS = np.array([_LIBRARY_INDEX[name] for name in JOINTS])


def _load_library() -> tuple[Any, Any, Any]:
    os.environ.setdefault("GLOG_minloglevel", "3")
    os.environ.setdefault("TF_CPP_MIN_LOG_LEVEL", "3")
    with _without_plotting():
        import mediapipe
        from mediapipe.tasks.python import BaseOptions, vision

    return mediapipe, BaseOptions, vision


@contextmanager
def _without_plotting() -> Iterator[None]:
    """The pose library loads a plotting library for drawings that nobody here makes: a third of a second each time."""
    names = ("matplotlib", "matplotlib.pyplot")
    if names[0] in sys.modules:
        yield
        return
    for name in names:
        sys.modules[name] = ModuleType(name)
    try:
        yield
    finally:
        for name in names:
            del sys.modules[name]


class PoseFinder:
    """Finds the joints frame by frame; its region of interest follows the golfer.

    Parameters
    ----------
    people : int
        How many people to look for, 1 to 4. One is the fast way.
    still : bool
        True treats every picture on its own, without tracking.
    """

    def __init__(self, *, people: int = 1, still: bool = False) -> None:
        if not 1 <= people <= 4:
            raise ValueError(f"people must be in 1..4, got {people}")
        self._library, base, vision = _load_library()
        self._still = still
        mode = vision.RunningMode.IMAGE if still else vision.RunningMode.VIDEO
        options = vision.PoseLandmarkerOptions(
            base_options=base(model_asset_path=str(checked_model("pose_full.task"))),
            running_mode=mode,
            num_poses=people,
        )
        self._finder = vision.PoseLandmarker.create_from_options(options)
        self._last_ms, self._later_ms = -1, 0

    def __enter__(self) -> PoseFinder:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._finder.close()

    def forget(self) -> None:
        """Follow nobody any more: the next picture may be of any time. Cheaper than a new finder."""
        if self._last_ms >= 0 and not self._still:
            self._later_ms = self._last_ms + _FORGET_MS
            self.find_all(np.zeros((64, 64, 3), np.uint8), 0.0)
            self._later_ms += _FORGET_MS

    def find_all(self, rgb: np.ndarray, t_s: float) -> list[tuple[Floats, Floats]]:
        """Every person found in one frame.

        Parameters
        ----------
        rgb : ndarray of shape (H, W, 3), uint8
            Upright picture.
        t_s : float
            Time in seconds; must not fall from call to call when tracking.

        Returns
        -------
        list of (xy, confidence)
            ``xy`` (J, 2) pixels, ``confidence`` (J,) in 0..1.
        """
        picture = self._library.Image(
            image_format=self._library.ImageFormat.SRGB, data=np.ascontiguousarray(rgb)
        )
        height, width = rgb.shape[:2]
        if self._still:
            found = self._finder.detect(picture)
        else:
            self._last_ms = max(self._last_ms + 1, round(t_s * 1000) + self._later_ms)
            found = self._finder.detect_for_video(picture, self._last_ms)
        return [_person(marks, width, height) for marks in found.pose_landmarks]

    def find(self, rgb: np.ndarray, t_s: float) -> tuple[Floats, Floats]:
        """The one person: ``xy`` (J, 2) pixels and ``confidence`` (J,), NaN and 0 where nobody is."""
        people = self.find_all(rgb, t_s)
        if people:
            return people[0]
        return np.full((len(JOINTS), 2), np.nan), np.zeros(len(JOINTS))


def _person(marks: Any, width: int, height: int) -> tuple[Floats, Floats]:
    rows = np.array([(m.x * width, m.y * height, min(m.visibility, m.presence)) for m in marks])[_ROWS]
    return rows[:, :2].copy(), rows[:, 2].copy()
