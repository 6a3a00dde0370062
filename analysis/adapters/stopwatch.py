"""How long each stage of measuring a clip took: kept apart from the readout, which is the same each time."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

STAGES = ("probe", "scout", "pose", "club", "sound", "events", "metrics")
# Runs in a second thread while poses are found, so its seconds are no part of the sum.
BESIDE = "club"


@dataclass(frozen=True, slots=True)
class Timings:
    """Seconds by stage and in all.

    ``seconds`` has every name of ``STAGES``: reading the file's facts, the coarse pass, the close look with its
    poses, the network that finds the club (in a second thread beside the poses), the strike in the sound, the
    events, metrics with signs. ``total_s`` is the time from start to end, at least the sum of all but the club's.
    """

    seconds: Mapping[str, float]
    total_s: float

    def share(self, stage: str) -> float:
        """Part of the whole time, 0..1; 0 when nothing took any time."""
        return self.seconds[stage] / self.total_s if self.total_s > 0 else 0.0

    def to_json(self) -> dict[str, Any]:
        """``{"total_s", "stages": {name: {"s", "share"}}}``."""
        stages = {
            name: {"s": round(self.seconds[name], 3), "share": round(self.share(name), 3)} for name in STAGES
        }
        return {"total_s": round(self.total_s, 3), "stages": stages}

    def line(self) -> str:
        """One line for a terminal."""
        parts = [f"{name} {self.seconds[name]:.2f} s ({100 * self.share(name):.0f} %)" for name in STAGES]
        return f"timings: {', '.join(parts)}; {self.total_s:.2f} s in all ({BESIDE} runs beside pose)"


@dataclass(slots=True)
class Stopwatch:
    """Adds up the seconds of each stage; may be used from several threads."""

    _began: float = field(default_factory=time.perf_counter)
    _seconds: dict[str, float] = field(default_factory=lambda: dict.fromkeys(STAGES, 0.0))
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Count the time inside to ``name``.

        Raises
        ------
        ValueError
            If ``name`` is not one of ``STAGES``.
        """
        if name not in STAGES:
            raise ValueError(f"stage must be one of {STAGES}, got {name!r}")
        began = time.perf_counter()
        try:
            yield
        finally:
            with self._lock:
                self._seconds[name] += time.perf_counter() - began

    def timings(self) -> Timings:
        """What was counted up to now."""
        with self._lock:
            return Timings(dict(self._seconds), time.perf_counter() - self._began)
