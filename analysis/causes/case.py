"""What is known of one submission when its causes are ranked."""

from __future__ import annotations

from dataclasses import dataclass, field

from analysis.signs.rules import KEYS
from analysis.types import CLUB_CLASSES, HANDS, LEVELS, LIKELY, POSSIBLE, VIEWS

CONFIRMED, DISMISSED = "confirmed", "dismissed"
# Where one sign comes with several words (several swings, two views), the first of these counts.
STATES = (CONFIRMED, DISMISSED, *LEVELS)

STARTS = ("left", "straight", "right", "both")
CURVES = ("left", "none", "right", "both")
STRIKES = ("clean", "fat", "thin", "top", "heel", "toe")
HEIGHTS = ("normal", "high", "low")


@dataclass(frozen=True, slots=True)
class SeenSign:
    """A sign with the coach's word, or the machine's level and probability where the coach said nothing.

    Attributes
    ----------
    key : str
        One of ``signs.rules.KEYS``.
    state : str
        ``confirmed``, ``dismissed``, or a level: ``likely``, ``possible``, ``not_seen``, ``cant_tell``.
    p : float or None
        Probability 0..1, needed for ``likely`` and ``possible``.
    """

    key: str
    state: str
    p: float | None = None

    def __post_init__(self) -> None:
        _one_of("key", self.key, KEYS)
        _one_of("state", self.state, STATES)
        if self.state in (LIKELY, POSSIBLE) and (self.p is None or not 0 <= self.p <= 1):
            raise ValueError(f"p of a {self.state} sign must be in 0..1, got {self.p}")


@dataclass(frozen=True, slots=True)
class Miss:
    """The student's own report, left and right as seen on the range; None where nothing was said."""

    start: str | None = None
    curve: str | None = None
    strike: str | None = None
    height: str | None = None

    def __post_init__(self) -> None:
        words = {"start": STARTS, "curve": CURVES, "strike": STRIKES, "height": HEIGHTS}
        for name, allowed in words.items():
            value = getattr(self, name)
            if value is not None:
                _one_of(name, value, allowed)


@dataclass(frozen=True, slots=True)
class Case:
    """Everything the ranking looks at.

    Attributes
    ----------
    observations, ruled_out : tuple of str
        Nodes of the cause map that the coach saw or ruled out by eye.
    beliefs : tuple of str
        Belief nodes that the student's intent stands for.
    views : tuple of str
        Views that were filmed.
    pain : bool or None
        Whether any pain was reported; None where the question wasn't answered.
    """

    club_class: str
    handedness: str = "right"
    signs: tuple[SeenSign, ...] = ()
    observations: tuple[str, ...] = ()
    ruled_out: tuple[str, ...] = ()
    miss: Miss = field(default_factory=Miss)
    beliefs: tuple[str, ...] = ()
    views: tuple[str, ...] = ()
    pain: bool | None = None

    def __post_init__(self) -> None:
        _one_of("club_class", self.club_class, CLUB_CLASSES)
        _one_of("handedness", self.handedness, HANDS)
        for view in self.views:
            _one_of("views", view, VIEWS)
        both = sorted(set(self.observations) & set(self.ruled_out))
        if both:
            raise ValueError(f"observations and ruled_out must not share a node, both have {both}")


def _one_of(name: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise ValueError(f"{name} must be one of {allowed}, got {value!r}")
