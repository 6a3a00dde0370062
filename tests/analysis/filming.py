"""One swing as phones of several rates film it: frames left out of a clip of 240 a second, with the truth beside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from analysis.adapters.spoil import Reel, behind_net
from analysis.adapters.truth import read_truth
from analysis.types import Floats
from tests.analysis.clipmaker import CLIPS, frames_of
from tests.analysis.scenes import Picture, Scene, write_scene

FAST_FPS = 240.0
FOLDER = "rates"


@dataclass(frozen=True)
class Filming:
    """Which frames of the fast clip are kept, how many times slower they play, and what the file says of it.

    ``open_for`` frames make one picture, an odd number: the shutter stays open from the first to the last. ``net``: the
    phone looks through a net.
    """

    every: int = 1
    slower: float = 1.0
    capture_fps: float | None = None
    varied: bool = False
    open_for: int = 1
    net: bool = False

    @property
    def filmed_fps(self) -> float:
        """What the camera takes; a varied rate counts as its most frequent one."""
        return 60.0 if self.varied else FAST_FPS / self.every

    def kept(self, count: int) -> np.ndarray:
        """Numbers of the frames kept; ``varied``: gaps of 1/60 to 1/24 s, as phones do in poor light."""
        half = self.open_for // 2
        if not self.varied:
            return np.arange(half, count - half, self.every)
        steps = np.random.default_rng(7).choice([4, 5, 8, 10], size=count, p=[0.6, 0.15, 0.2, 0.05])
        places = np.cumsum(steps)
        return places[places < count]

    def scene(self, name: str) -> Scene:
        pictures = frames_of(f"{FOLDER}/{name}")
        kept = self.kept(len(pictures))
        times = (kept - kept[0]) / FAST_FPS * self.slower
        rate = 1 / float(np.median(np.diff(times)))
        taken = [self._picture(pictures, int(k)) for k in kept]
        return Scene(taken, times.tolist(), fps=rate, capture_fps=self.capture_fps)

    def _picture(self, pictures: Sequence[Picture], k: int) -> Picture:
        if self.open_for == 1 and not self.net:
            return pictures[k]
        half = self.open_for // 2
        seen = np.mean(pictures[k - half : k + half + 1], axis=0).astype(np.uint8)
        if not self.net:
            return seen
        one = Reel(seen[None], np.zeros(1), np.zeros((1, 2, 3)), np.array([k]))
        return behind_net(0.05, 0.4)(one).pictures[0]

    def write(self, path: Path, name: str) -> Path:
        return write_scene(path, self.scene(name))


FILMINGS = {
    "30": Filming(8),
    "60": Filming(4),
    "120": Filming(2),
    "240": Filming(1),
    "variable": Filming(varied=True),
    "60, shutter long open": Filming(4, open_for=3),
    "60, through a net": Filming(4, net=True),
    "slowed": Filming(2, slower=4.0),
    "slowed, said": Filming(2, slower=4.0, capture_fps=120.0),
}


@cache
def fast_truth(name: str) -> dict[str, Any]:
    """The truth of the fast clip."""
    return read_truth(CLIPS / FOLDER / f"{name}.json.gz")


def true_events(name: str, filming: Filming) -> dict[str, float]:
    """Seconds of the swing from the first kept frame on, as if it played at its own pace."""
    data = fast_truth(name)
    first = data["frames"][int(filming.kept(len(data["frames"]))[0])]["t"]
    return {event: t - first for event, t in data["meta"]["events"].items() if t is not None}


def true_shaft(name: str, filming: Filming) -> tuple[Floats, Floats, Floats]:
    """Times (as for `true_events`), degrees and visible share of the shaft in every kept frame."""
    frames = fast_truth(name)["frames"]
    kept = [frames[k] for k in filming.kept(len(frames))]
    ends = np.array([f["club2d"] for f in kept], float)
    along = ends[:, 1] - ends[:, 0]
    return (
        np.array([f["t"] for f in kept]) - kept[0]["t"],
        np.degrees(np.arctan2(along[:, 1], along[:, 0])),
        np.array([f["shaft_visible"] for f in kept], float),
    )
