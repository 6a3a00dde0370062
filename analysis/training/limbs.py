"""Two-bone limbs and hands: rest geometry, and the pose that reaches a wanted place."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from analysis.training.body import Body
from analysis.training.rotations import cross, frame, unit
from analysis.types import Floats

Side = Literal["L", "R"]
SIDES: tuple[Side, Side] = ("L", "R")
FULL_STRETCH = 0.9985
GRIP_ACROSS_PALM_DEG = 52.0


@dataclass(frozen=True, slots=True)
class Limb:
    """Lengths of the two bones (m), their rest directions, and the rest axis of the hinge."""

    upper: float
    lower: float
    upper_direction: Floats
    lower_direction: Floats
    hinge: Floats

    @property
    def reach(self) -> float:
        """Length of the straight limb."""
        return self.upper + self.lower


@dataclass(frozen=True, slots=True)
class Reach:
    """A bent limb: places of the middle and the end joint, rotations of both bones, distance not reached."""

    middle: Floats
    end: Floats
    upper: Floats
    lower: Floats
    gap: float


@dataclass(frozen=True, slots=True)
class Hand:
    """Rest frame of a hand: along it, palm normal, the axis it grips about, wrist to grip centre."""

    along: Floats
    palm: Floats
    grip_axis: Floats
    wrist_to_grip: Floats


@dataclass(frozen=True, slots=True)
class Foot:
    """Rest places of the ankle and of the ball of the foot it turns about."""

    ankle: Floats
    pivot: Floats


def arm_of(body: Body, side: Side) -> Limb:
    """The arm at rest; its hinge axis comes from the slight rest bend."""
    shoulder, elbow, wrist = (body.bone(f"{b}.{side}") for b in ("upperarm01", "lowerarm01", "wrist"))
    line = unit(wrist - shoulder)
    off = (elbow - shoulder) - line * ((elbow - shoulder) @ line)
    return _limb(shoulder, elbow, wrist, unit(cross(off, line)))


def leg_of(body: Body, side: Side) -> Limb:
    """The leg at rest; it bends about +x."""
    hip, knee, ankle = (body.bone(f"{b}.{side}") for b in ("upperleg01", "lowerleg01", "foot"))
    return _limb(hip, knee, ankle, np.array([1.0, 0.0, 0.0]))


def _limb(start: Floats, middle: Floats, end: Floats, hinge: Floats) -> Limb:
    upper, lower = middle - start, end - middle
    return Limb(float(np.linalg.norm(upper)), float(np.linalg.norm(lower)), unit(upper), unit(lower), hinge)


def hand_of(body: Body, side: Side) -> Hand:
    """The hand at rest."""
    wrist = body.bone(f"wrist.{side}")
    index, little, middle = (body.bone(f"finger{k}-1.{side}") for k in (2, 5, 3))
    along = unit(middle - wrist)
    thumb_side = unit((index - little) - along * ((index - little) @ along))
    palm = cross(along, thumb_side) if side == "R" else cross(thumb_side, along)
    tip = body.bone(f"finger3-3.{side}") - middle
    if palm @ (tip - along * (tip @ along)) < 0:
        palm = -palm
    lay = math.radians(GRIP_ACROSS_PALM_DEG)
    centre = (index + little) / 2 * 0.7 + wrist * 0.3 + palm * 0.030
    return Hand(along, palm, unit(math.cos(lay) * along + math.sin(lay) * thumb_side), centre - wrist)


def foot_of(body: Body, side: Side) -> Foot:
    """The foot at rest."""
    ankle, toe = body.bone(f"foot.{side}"), body.bone(f"toe1-1.{side}")
    return Foot(ankle, np.array([ankle[0], toe[1] + 0.015, 0.012]))


def bend(limb: Limb, start: Floats, wanted: Floats, pole: Floats) -> Reach:
    """Reach from ``start`` to ``wanted`` with the middle joint toward ``pole``.

    Where ``wanted`` is too far the limb is (almost) straight and ``gap`` says by how much it misses.
    """
    away = wanted - start
    distance = float(np.linalg.norm(away))
    length = min(distance, FULL_STRETCH * limb.reach)
    line = unit(away)
    end = start + line * length
    # Law of cosines at the start joint.
    cosine = (limb.upper**2 + length**2 - limb.lower**2) / (2 * limb.upper * length)
    cosine = min(1.0, max(-1.0, cosine))
    side = unit(pole - line * (pole @ line))
    middle = start + line * limb.upper * cosine + side * limb.upper * math.sqrt(1 - cosine**2)
    hinge = cross(side, line)
    upper = frame(unit(middle - start), hinge) @ frame(limb.upper_direction, limb.hinge).T
    lower = frame(unit(end - middle), hinge) @ frame(limb.lower_direction, limb.hinge).T
    return Reach(middle, end, upper, lower, distance - length)


def hand_rotation(hand: Hand, shaft: Floats, palm: Floats) -> Floats:
    """Rotation (3, 3) of a hand that grips ``shaft`` with its palm toward ``palm``."""
    across = palm - shaft * (palm @ shaft)
    return np.asarray(frame(shaft, across) @ frame(hand.grip_axis, hand.palm).T)
