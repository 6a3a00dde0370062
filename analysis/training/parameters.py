"""What one rendered swing is made of: body, club, timing, fault."""

from __future__ import annotations

from dataclasses import dataclass, fields

from analysis.training.clubs import CLUBS, ClubShape


@dataclass(frozen=True, slots=True)
class Faults:
    """Amount of each built-in fault, 0 none .. 1 full."""

    early_release: float = 0.0
    stalled_finish: float = 0.0
    steep: float = 0.0
    reverse_spine: float = 0.0
    overlong: float = 0.0
    over_the_top: float = 0.0
    early_extension: float = 0.0
    sway: float = 0.0
    slide: float = 0.0
    hanging_back: float = 0.0
    arm_collapse: float = 0.0
    poor_hinge: float = 0.0

    @staticmethod
    def one(name: str, amount: float) -> Faults:
        """A single fault; ``none`` is a clean swing.

        Raises
        ------
        ValueError
            If the name is unknown or the amount is outside 0..1.
        """
        if name not in FAULTS:
            raise ValueError(f"fault must be one of {FAULTS}, got {name!r}")
        if not 0 <= amount <= 1:
            raise ValueError(f"amount must be in 0..1, got {amount}")
        return Faults() if name == "none" else Faults(**{name: amount})


FAULTS: tuple[str, ...] = ("none", *(f.name for f in fields(Faults)))


@dataclass(frozen=True, slots=True)
class SwingParameters:
    """A right-hander's swing; a left-hander is the mirrored picture. Times in seconds.

    ``backswing`` and ``downswing`` default to the mean of tournament professionals, 0.80 s and 0.27 s
    (Grober & Cholewicki 2006). ``turn_scale`` scales pelvis and thorax turn. ``jitter`` draws every key value
    anew around its own (0 none, 1 as used for training).
    """

    body: str = "m_avg"
    club: str = "iron7"
    fault: str = "none"
    amount: float = 1.0
    address_s: float = 0.45
    backswing: float = 0.80
    downswing: float = 0.27
    follow: float = 0.62
    duration: float = 2.50
    turn_scale: float = 1.0
    club_scale: float = 1.0
    jitter: float = 0.0
    seed: int = 0
    fps: float = 60.0

    def __post_init__(self) -> None:
        if self.club not in CLUBS:
            raise ValueError(f"club must be one of {sorted(CLUBS)}, got {self.club!r}")
        if min(self.backswing, self.downswing, self.follow) <= 0:
            raise ValueError("backswing, downswing and follow must be positive seconds")
        end = self.address_s + self.backswing + self.downswing + self.follow
        if self.duration < end:
            raise ValueError(f"duration must be at least {end:.2f} s for this swing, got {self.duration}")

    @property
    def shape(self) -> ClubShape:
        """The club's shape."""
        return CLUBS[self.club]

    @property
    def club_length(self) -> float:
        """Butt to head, m."""
        return self.shape.length * self.club_scale

    @property
    def faults(self) -> Faults:
        """The fault as amounts."""
        return Faults.one(self.fault, self.amount)


@dataclass(frozen=True, slots=True)
class Clock:
    """The key times of a swing, seconds, and how far its amplitude goes."""

    address: float
    top: float
    impact: float
    finish: float
    end: float
    turn_scale: float

    @staticmethod
    def of(p: SwingParameters) -> Clock:
        """Key times of these parameters."""
        top = p.address_s + p.backswing
        impact = top + p.downswing
        return Clock(p.address_s, top, impact, impact + p.follow, p.duration, p.turn_scale)

    def back(self, share: float) -> float:
        """Time at a share of the backswing."""
        return self.address + share * (self.top - self.address)

    def down(self, share: float) -> float:
        """Time at a share of the downswing."""
        return self.top + share * (self.impact - self.top)

    def through(self, share: float) -> float:
        """Time at a share of the way from impact to the finish."""
        return self.impact + share * (self.finish - self.impact)
