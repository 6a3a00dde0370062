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

    def add(self, t_s: float, found: tuple[Floats, Floats]) -> None:
        """One frame: its time in seconds, joints (J, 2) in pixels and confidences (J,), 0..1."""
        self.times.append(t_s)
        self.xy.append(found[0])
        self.confidence.append(found[1])

    def track(self, width: int, height: int) -> PoseTrack:
        """All of it, for a picture of that size in pixels."""
        return PoseTrack(np.array(self.times), np.array(self.xy), np.array(self.confidence), width, height)
