"""A pose track while it grows, frame by frame."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from analysis.types import Floats, PoseTrack


@dataclass(slots=True)
class PoseRows:
    """Collects what a `PoseFinder` says of each frame."""

    times: list[float] = field(default_factory=list)
    xy: list[Floats] = field(default_factory=list)
    confidence: list[Floats] = field(default_factory=list)
    held: list[int] = field(default_factory=list)

    def add(self, t_s: float, found: tuple[Floats, Floats]) -> None:
        """One frame: its time in seconds, joints (J, 2) in pixels and confidences (J,), 0..1."""
        self.times.append(t_s)
        self.xy.append(found[0])
        self.confidence.append(found[1])

    def hold(self, t_s: float) -> None:
        """One frame in which the pose of the one before still stands."""
        self.held.append(len(self.times))
        self.add(t_s, (self.xy[-1], self.confidence[-1]))

    def track(self, width: int, height: int) -> PoseTrack:
        """All of it, for a picture of that size in pixels."""
        t_s, xy = np.array(self.times), np.array(self.xy)
        return PoseTrack(t_s, self._moved_along(t_s, xy), np.array(self.confidence), width, height)

    def _moved_along(self, t_s: Floats, xy: Floats) -> Floats:
        """Held frames on the straight line between the poses before and after, so that none ends in a jump."""
        if not self.held:
            return xy
        looked = np.setdiff1d(np.arange(len(t_s)), self.held)
        for i in self.held:
            after = int(np.searchsorted(looked, i))
            if after < len(looked) and np.isfinite(xy[looked[after]]).all():
                a, b = looked[after - 1], looked[after]
                share = (t_s[i] - t_s[a]) / (t_s[b] - t_s[a])
                xy[i] = (1 - share) * xy[a] + share * xy[b]
        return xy
