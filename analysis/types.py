"""Shared data types and the conventions every module keeps.

* Time is seconds from the clip's first frame, taken from presentation timestamps.
* Image axes: x right, y down, pixels of the upright frame (rotation already applied).
* Arrays are ``(T, J, D)``; a missing value is ``NaN``; ``confidence`` is ``(T, J)`` in 0..1.
* Angles are degrees.
* "Lead" is the side nearer the target, "trail" the other one. A right-hander's lead side is the left.
* Face-on pictures: positive is toward the target. Down-the-line pictures: positive is toward the ball.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

JOINTS: tuple[str, ...] = (
    "nose",
    "left_ear",
    "right_ear",
    "left_shoulder",
    "right_shoulder",
    "left_elbow",
    "right_elbow",
    "left_wrist",
    "right_wrist",
    "left_index",
    "right_index",
    "left_hip",
    "right_hip",
    "left_knee",
    "right_knee",
    "left_ankle",
    "right_ankle",
    "left_heel",
    "right_heel",
    "left_foot_index",
    "right_foot_index",
)
JOINT_INDEX: Mapping[str, int] = {name: k for k, name in enumerate(JOINTS)}

EVENTS: tuple[str, ...] = (
    "address",
    "takeaway",
    "shaft_parallel_back",
    "lead_arm_parallel_back",
    "top",
    "lead_arm_parallel_down",
    "delivery_shaft_parallel",
    "impact",
    "shaft_parallel_through",
    "finish",
)

FACE_ON, DOWN_THE_LINE = "face_on", "dtl"
VIEWS = (FACE_ON, DOWN_THE_LINE)
HANDS = ("right", "left")
CLUB_CLASSES = ("wedge", "iron", "hybrid", "fairway", "driver")


@dataclass(frozen=True, slots=True)
class PoseTrack:
    """Picture positions of the joints over time.

    ``t_s`` (T,), ``xy`` (T, J, 2) in pixels with J = len(JOINTS), ``confidence`` (T, J) in 0..1.
    """

    t_s: Floats
    xy: Floats
    confidence: Floats
    width: int
    height: int

    def __post_init__(self) -> None:
        frames = self.t_s.shape[0]
        want = (frames, len(JOINTS), 2)
        if self.xy.shape != want:
            raise ValueError(f"xy must have shape {want}, got {self.xy.shape}")
        if self.confidence.shape != want[:2]:
            raise ValueError(f"confidence must have shape {want[:2]}, got {self.confidence.shape}")
        if frames > 1 and not bool(np.all(np.diff(self.t_s) > 0)):
            raise ValueError("t_s must rise strictly, got equal or falling times")

    def joint(self, name: str) -> Floats:
        """Track (T, 2) of one joint, pixels."""
        return self.xy[:, JOINT_INDEX[name]]


@dataclass(frozen=True, slots=True)
class ClubTrack:
    """The projected shaft over time.

    ``t_s`` (K,), ``deg`` (K,) direction from grip to head by atan2 in image axes, ``confidence`` (K,)
    in 0..1 that the direction is within 5 degrees, ``grip_xy`` and ``head_xy`` (K, 2) pixels,
    ``head_confidence`` (K,), ``by_lines`` (K,) true where the search among lines answered instead of the
    network; empty means nowhere.
    """

    t_s: Floats
    deg: Floats
    confidence: Floats
    grip_xy: Floats
    head_xy: Floats
    head_confidence: Floats
    by_lines: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, bool))

    @property
    def from_lines(self) -> NDArray[np.bool_]:
        """``by_lines`` at full length (K,)."""
        return self.by_lines if self.by_lines.size else np.zeros(self.t_s.size, bool)

    @staticmethod
    def empty() -> ClubTrack:
        """A track without a single frame: the club was not looked for or never seen."""
        none, pairs = np.zeros(0), np.zeros((0, 2))
        return ClubTrack(none, none, none, pairs, pairs, none)


@dataclass(frozen=True, slots=True)
class BallMark:
    """Where the ball lay and when it was gone.

    ``xy`` (2,) pixels; ``gone_s`` middle of the two frames between which it left; ``half_gap_s`` half
    the time between those frames. ``xy`` is NaN where no ball was found.
    """

    xy: Floats
    gone_s: float
    half_gap_s: float

    @staticmethod
    def unseen() -> BallMark:
        """No ball was found."""
        return BallMark(np.full(2, np.nan), float("nan"), float("nan"))


@dataclass(frozen=True, slots=True)
class EventTime:
    """A swing event: time and standard error in seconds, and the rule that placed it."""

    t_s: float
    se_s: float
    rule: str


@dataclass(frozen=True, slots=True)
class Metric:
    """A measured number, or the reason why there is none."""

    name: str
    unit: str
    value: float | None = None
    se: float | None = None
    at: tuple[str, ...] = ()
    reason: str | None = None
    samples: Floats | None = field(default=None, repr=False, compare=False)

    def to_json(self) -> dict[str, Any]:
        """``{"value", "se", "unit", "at"}`` or ``{"reason"}``."""
        if self.value is None or self.se is None:
            return {"reason": self.reason or "not measured"}
        return {
            "value": round(self.value, 4),
            "se": round(self.se, 4),
            "unit": self.unit,
            "at": list(self.at),
        }


@dataclass(frozen=True, slots=True)
class Evidence:
    """One term behind a sign: what was measured, where, and how much it spoke for the sign."""

    metric: str
    value: float | None
    se: float | None
    unit: str
    at: tuple[str, ...]
    times_s: tuple[float, ...]
    grey: tuple[float, float]
    support: float | None
    weight: float
    grade: str
    source: str
    reason: str | None = None

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "metric": self.metric,
            "value": None if self.value is None else round(self.value, 4),
            "se": None if self.se is None else round(self.se, 4),
            "unit": self.unit,
            "at": list(self.at),
            "times_s": [round(t, 4) for t in self.times_s],
            "grey": list(self.grey),
            "support": None if self.support is None else round(self.support, 3),
            "weight": self.weight,
            "grade": self.grade,
            "source": self.source,
            "reason": self.reason,
        }


LIKELY, POSSIBLE, NOT_SEEN, CANT_TELL = "likely", "possible", "not_seen", "cant_tell"
LEVELS = (LIKELY, POSSIBLE, NOT_SEEN, CANT_TELL)


@dataclass(frozen=True, slots=True)
class Sign:
    """A fault pattern with its level, probability, evidence and the frames that show it.

    ``frames`` are (event name, time in seconds) of the instants to look at. ``bands`` says whose grey zones
    judged it: ``shipped`` or ``camp``. ``limit`` names what keeps it from being told: ``view``, ``fps``,
    ``missing``, ``off``, or nothing.
    """

    key: str
    level: str
    p: float | None
    evidence: tuple[Evidence, ...]
    note: str = ""
    bands: str = "shipped"
    limit: str = ""
    frames: tuple[tuple[str, float], ...] = ()

    def to_json(self) -> dict[str, Any]:
        """``{"level", "p", "evidence", "note", "bands", "limit", "frames"}``."""
        return {
            "level": self.level,
            "p": None if self.p is None else round(self.p, 3),
            "evidence": [term.to_json() for term in self.evidence],
            "note": self.note,
            "bands": self.bands,
            "limit": self.limit,
            "frames": [{"event": name, "t": round(t_s, 4)} for name, t_s in self.frames],
        }


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that limits or forbids the measuring; ``sentence`` tells the student what to do."""

    code: str
    sentence: str
    fatal: bool

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {"code": self.code, "sentence": self.sentence, "fatal": self.fatal}
