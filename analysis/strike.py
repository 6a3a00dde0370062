"""Whether a swing hit a ball: strikes and practice swings told apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

STRIKE, PRACTICE, UNKNOWN = "strike", "practice", "unknown"
KINDS = (STRIKE, PRACTICE, UNKNOWN)
# Sound takes 2.9 ms a metre and a phone's sound may be tens of milliseconds off its picture.
HEARD_BEFORE_S, HEARD_AFTER_S = 0.06, 0.12
# Practice swings are mostly made slower; below this share of the clip's fastest it speaks for one.
SLOW_SHARE = 0.6

WHY = {
    "ball_left": "the ball left its place at impact",
    "heard": "a strike was heard at impact",
    "silent": "no ball left and no strike was heard",
    "others_hit": "no ball left, as it did in another swing of this clip",
    "slower": "no ball was seen leaving, and the hands were much slower than in another swing of this clip",
    "not_told": "no ball was seen leaving, and the clip has no sound to tell by",
}


@dataclass(frozen=True, slots=True)
class Signals:
    """What was noticed at one swing's impact.

    ``ball_left``: a ball vanished. ``heard``: a strike was heard, None without a sound track. ``hand_speed``:
    fastest hands on the way down, any unit, the same for all swings of a clip; NaN if unknown.
    """

    ball_left: bool
    heard: bool | None
    hand_speed: float


@dataclass(frozen=True, slots=True)
class Strike:
    """Kind of a swing, one of ``KINDS``, and the key of the reason, one of ``WHY``."""

    kind: str
    reason: str

    def to_json(self) -> dict[str, Any]:
        """``{"kind", "why"}`` with the reason in words."""
        return {"kind": self.kind, "why": WHY[self.reason]}


NOT_TOLD = Strike(UNKNOWN, "not_told")


def heard_at(clicks_s: Sequence[float] | None, impact_s: float, stretch: float = 1.0) -> bool | None:
    """Whether one of the clicks falls on the impact; None if there was no sound to listen to.

    Parameters
    ----------
    clicks_s : sequence of float or None
        Times of short hard sounds, seconds.
    impact_s : float
        Seconds.
    stretch : float
        Slow-motion factor; the sound of a slowed clip tells nothing.
    """
    if clicks_s is None or stretch > 1.5:
        return None
    return strike_near(clicks_s, impact_s, stretch) is not None


def strike_near(clicks_s: Sequence[float] | None, impact_s: float, stretch: float = 1.0) -> float | None:
    """The click that may be the strike: the nearest of those that fall on the impact.

    Parameters
    ----------
    clicks_s, impact_s, stretch
        As for ``heard_at``; ``impact_s`` may be the rough one of the coarse pass.

    Returns
    -------
    float or None
        Seconds, as heard: the sound's way to the phone is still in it.
    """
    if clicks_s is None or stretch > 1.5:
        return None
    near = [t for t in clicks_s if -HEARD_BEFORE_S <= t - impact_s <= HEARD_AFTER_S]
    return min(near, key=lambda t: abs(t - impact_s), default=None)


def judge_strikes(swings: Sequence[Signals]) -> list[Strike]:
    """Strike, practice or unknown for each swing of one clip.

    Parameters
    ----------
    swings : sequence of Signals
        All swings of the clip, in order.

    Returns
    -------
    list of Strike
    """
    speeds = [s.hand_speed for s in swings if s.hand_speed == s.hand_speed]
    fastest = max(speeds, default=float("nan"))
    ball_elsewhere = any(s.ball_left for s in swings)
    return [_judge(s, fastest, ball_elsewhere) for s in swings]


def _judge(swing: Signals, fastest: float, ball_elsewhere: bool) -> Strike:
    if swing.ball_left:
        return Strike(STRIKE, "ball_left")
    if swing.heard:
        return Strike(STRIKE, "heard")
    if swing.heard is False:
        return Strike(PRACTICE, "silent")
    if ball_elsewhere:
        return Strike(PRACTICE, "others_hit")
    if swing.hand_speed < SLOW_SHARE * fastest:
        return Strike(PRACTICE, "slower")
    return Strike(UNKNOWN, "not_told")


def main_swing(kinds: Sequence[str]) -> int | None:
    """Number (from 1) of the swing to show first: a strike, else one that may be, else any; None if none."""
    for kind in (STRIKE, UNKNOWN, PRACTICE):
        if kind in kinds:
            return list(kinds).index(kind) + 1
    return None
