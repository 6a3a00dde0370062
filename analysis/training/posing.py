"""From track values at one instant to the whole skeleton and the club."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.training.body import Body
from analysis.training.bones import Bones
from analysis.training.limbs import (
    SIDES,
    Foot,
    Hand,
    Limb,
    Reach,
    Side,
    arm_of,
    bend,
    foot_of,
    hand_of,
    hand_rotation,
    leg_of,
)
from analysis.training.parameters import SwingParameters
from analysis.training.pose import Pose
from analysis.training.rotations import (
    about_axis,
    about_x,
    about_y,
    about_z,
    between,
    cross,
    turning,
    twist_about,
    unit,
)
from analysis.types import Floats

Values = dict[str, float]

BUTT_ABOVE_LEAD_GRIP_M = 0.055
HANDS_APART_M = 0.078
STANCE_HALF_M = 0.205
_DOWN, _BACK, _TARGET = np.array([0.0, 0, -1]), np.array([0.0, 1, 0]), np.array([1.0, 0, 0])
_SPINE = (("spine05", 0.12), ("spine04", 0.32), ("spine03", 0.55), ("spine02", 0.8), ("spine01", 1.0))
_NECK = (("neck01", 0.2), ("neck02", 0.45), ("neck03", 0.75), ("head", 1.0))
_FINGER_BENDS, _THUMB_BENDS = (62.0, 78.0, 45.0), (12.0, 22.0, 20.0)
_FOOT_YAW = {"L": 16.0, "R": -8.0}


@dataclass(frozen=True, slots=True)
class _Grip:
    """Both arms on the club."""

    lead: Reach
    trail: Reach
    lead_hand: Floats
    trail_hand: Floats
    lead_grip: Floats
    trail_grip: Floats
    shaft: Floats
    gap: float


def in_plane(angle_deg: float, plane_deg: float) -> Floats:
    """Unit direction in a swing plane: 0 = down the plane, + = away from the target."""
    a, p = math.radians(angle_deg), math.radians(plane_deg)
    return np.array([-math.sin(a), -math.cos(a) * math.cos(p), -math.cos(a) * math.sin(p)])


def _turn(v: Values, part: str) -> Floats:
    lateral, tilt, yaw = (math.radians(v[f"{part}_{k}"]) for k in ("lateral", "tilt", "yaw"))
    return np.asarray(about_y(lateral) @ about_x(tilt) @ about_z(yaw))


class Poser:
    """Poses one body with one club."""

    def __init__(self, body: Body, p: SwingParameters) -> None:
        self.body, self.p = body, p
        self.scale = body.height / 1.75
        self.arm: dict[Side, Limb] = {s: arm_of(body, s) for s in SIDES}
        self.leg: dict[Side, Limb] = {s: leg_of(body, s) for s in SIDES}
        self.hand: dict[Side, Hand] = {s: hand_of(body, s) for s in SIDES}
        self.foot: dict[Side, Foot] = {s: foot_of(body, s) for s in SIDES}
        self._toes = {s: [b for b in body.labels if b.startswith("toe") and b.endswith(s)] for s in SIDES}

    def pose(self, v: Values, shift: Floats, full: bool = True) -> Pose:
        """The skeleton for track values ``v``; ``full=False`` leaves fingers and toes at rest.

        Parameters
        ----------
        v : dict
            One value of every track (see ``keys``).
        shift : ndarray of shape (3,)
            Added to the pelvis, m.
        full : bool
        """
        count = len(self.body.labels)
        bones = Bones(self.body, np.tile(np.eye(3), (count, 1, 1)), np.zeros((count, 3)))
        pelvis, thorax, skull = (_turn(v, part) for part in ("pelvis", "thorax", "head"))
        feet = {s: self._foot(v, s) for s in SIDES}
        self._trunk(bones, v, pelvis, thorax, skull, self._root(v, shift, pelvis, feet))
        grip = self._grip(bones, v, thorax)
        reaches = {"L": (grip.lead, grip.lead_hand), "R": (grip.trail, grip.trail_hand)}
        for s in SIDES:
            reach, hand = reaches[s]
            self._arm(bones, s, reach, hand)
            if full:
                self._fingers(bones, s, hand)
        gap = max(self._leg(bones, v, s, feet[s], pelvis, full) for s in SIDES)
        butt = grip.lead_grip - BUTT_ABOVE_LEAD_GRIP_M * grip.shaft
        return Pose(
            rotations=bones.rotations,
            places=bones.places,
            butt=butt,
            head=butt + grip.shaft * self.p.club_length,
            shaft=grip.shaft,
            lead_grip=grip.lead_grip,
            trail_grip=grip.trail_grip,
            lead_palm=grip.lead_hand @ self.hand["L"].palm,
            lead_forearm=unit(grip.lead.end - grip.lead.middle),
            pelvis=pelvis,
            thorax=thorax,
            reach_gap=grip.gap,
            feet_gap=gap,
        )

    def _foot(self, v: Values, side: Side) -> tuple[Floats, Floats, Floats]:
        """Ankle place, foot rotation, and the yaw of the toes."""
        foot = self.foot[side]
        out = 1.0 if side == "L" else -1.0
        half = STANCE_HALF_M * self.scale * self.p.shape.stance
        yaw = about_z(math.radians(_FOOT_YAW[side]))
        pivot = np.array([out * half, 0, foot.ankle[2]]) + yaw @ (foot.pivot - foot.ankle)
        if side == "R":
            toes = about_z(math.radians(_FOOT_YAW[side] + v["trail_foot_yaw"]))
            turned = toes @ about_x(math.radians(v["trail_heel_pitch"]))
        else:
            toes, turned = yaw, yaw @ about_y(math.radians(v["lead_foot_roll"]))
        return pivot + turned @ (foot.ankle - foot.pivot), turned, toes

    def _root(
        self, v: Values, shift: Floats, pelvis: Floats, feet: dict[Side, tuple[Floats, Floats, Floats]]
    ) -> Floats:
        """Place of the pelvis, pulled down where a leg would be over-stretched."""
        body, length = self.body, self.leg["L"].reach
        rise = body.bone("root")[2] - body.bone("upperleg01.L")[2]
        z = feet["L"][0][2] + v["pelvis_height"] * length + rise
        root = np.array([v["pelvis_x"], v["pelvis_y"], z]) + shift
        longest = 0.992 * length
        for _ in range(6):
            for s in SIDES:
                to_hip = body.bone(f"upperleg01.{s}") - body.bone("root")
                away = root + pelvis @ to_hip - feet[s][0]
                if np.linalg.norm(away) > longest:
                    level2 = away[0] ** 2 + away[1] ** 2
                    root[2] -= away[2] - math.sqrt(max(longest**2 - level2, 0.01))
        return root

    def _trunk(
        self, bones: Bones, v: Values, pelvis: Floats, thorax: Floats, skull: Floats, root: Floats
    ) -> None:
        bones.put("root", pelvis, root)
        for s in SIDES:
            bones.put(f"pelvis.{s}", pelvis)
        for name, share in _SPINE:
            bones.put(name, between(pelvis, thorax, share))
        for name, share in _NECK:
            bones.put(name, between(thorax, skull, share))
        for s in SIDES:
            bones.put(f"eye.{s}", skull)
            sign, part = (1, "lead") if s == "L" else (-1, "trail")
            forward, up = (math.radians(-sign * v[f"{part}_{k}"]) for k in ("protraction", "elevation"))
            girdle = thorax @ about_z(forward) @ about_y(up)
            for bone in ("clavicle", "shoulder01", "upperarm01"):
                bones.put(f"{bone}.{s}", girdle)

    def _grip(self, bones: Bones, v: Values, thorax: Floats) -> _Grip:
        """Lead arm where the tracks want it, the club in it, the trail hand below; pulled in if too far."""
        shoulder, other = bones.at("upperarm01.L"), bones.at("upperarm01.R")
        yaw = about_z(math.radians(v["plane_yaw"]))
        wrist = self._wanted_wrist(v, shoulder, thorax, yaw)
        club_angle = v["arm_angle"] + v["hinge"]
        shaft = yaw @ in_plane(club_angle, v["club_plane"])
        palm_to = yaw @ self._palm_direction(club_angle, v)
        elbow_to = self._lead_pole(v, thorax)
        longest = 0.994 * self.arm["R"].reach
        for _ in range(4):
            lead = bend(self.arm["L"], shoulder, wrist, elbow_to)
            lead_hand = hand_rotation(self.hand["L"], shaft, palm_to)
            lead_grip = lead.end + lead_hand @ self.hand["L"].wrist_to_grip
            trail_grip = lead_grip + HANDS_APART_M * shaft
            trail_palm = -about_axis(shaft, math.radians(v["trail_palm_turn"])) @ (
                lead_hand @ self.hand["L"].palm
            )
            trail_hand = hand_rotation(self.hand["R"], shaft, trail_palm)
            trail_wrist = trail_grip - trail_hand @ self.hand["R"].wrist_to_grip
            away = trail_wrist - other
            distance = float(np.linalg.norm(away))
            if distance <= longest:
                break
            wrist = self._within_reach(shoulder, wrist - away / distance * (distance - longest) * 1.05)
        pole = _DOWN + 0.35 * (thorax @ np.array([-0.6, 0.5, 0.0])) + 0.2 * _BACK
        trail = bend(self.arm["R"], other, trail_wrist, unit(pole))
        gap = max(0.0, distance - longest)
        return _Grip(lead, trail, lead_hand, trail_hand, lead_grip, trail_grip, shaft, gap)

    def _wanted_wrist(self, v: Values, shoulder: Floats, thorax: Floats, yaw: Floats) -> Floats:
        swung = (
            shoulder + yaw @ in_plane(v["arm_angle"], v["arm_plane"]) * self.arm["L"].reach * v["arm_reach"]
        )
        finish = shoulder + thorax @ (np.array([-0.07, -0.24, 0.17]) * self.scale)
        w = v["finish_blend"]
        return self._within_reach(shoulder, (1 - w) * swung + w * finish)

    def _within_reach(self, shoulder: Floats, wrist: Floats) -> Floats:
        length = float(np.linalg.norm(wrist - shoulder))
        longest = 0.998 * self.arm["L"].reach
        return wrist if length <= longest else shoulder + (wrist - shoulder) * (longest / length)

    def _palm_direction(self, club_angle: float, v: Values) -> Floats:
        """Where the lead palm faces: back along the path at roll 0, toward the plane's normal at 90."""
        a, plane, roll = (math.radians(x) for x in (club_angle, v["club_plane"], v["palm_roll"]))
        path = np.array([math.cos(a), -math.sin(a) * math.cos(plane), -math.sin(a) * math.sin(plane)])
        normal = np.array([0.0, math.sin(plane), -math.cos(plane)])
        return -math.cos(roll) * path + math.sin(roll) * normal

    def _lead_pole(self, v: Values, thorax: Floats) -> Floats:
        out = (0.9 * v["finish_blend"] + 0.65 * v["lead_elbow_out"]) * _TARGET
        return unit(0.8 * _DOWN + 0.25 * _BACK + out + 0.15 * (thorax @ _TARGET))

    def _arm(self, bones: Bones, s: Side, reach: Reach, hand: Floats) -> None:
        arm, body = self.arm[s], self.body
        girdle = bones.turned(f"shoulder01.{s}")
        swung = turning(girdle @ arm.upper_direction, reach.upper @ arm.upper_direction) @ girdle
        bones.rotations[body.index[f"upperarm01.{s}"]] = between(swung, reach.upper, 0.45)
        bones.put(f"upperarm02.{s}", between(swung, reach.upper, 0.85))
        twist = twist_about(reach.lower.T @ hand, arm.lower_direction)
        rest = body.bone(f"lowerarm02.{s}") - body.bone(f"lowerarm01.{s}")
        axis = arm.lower_direction
        bones.put(f"lowerarm01.{s}", reach.lower @ about_axis(axis, 0.3 * twist), reach.middle)
        bones.put(
            f"lowerarm02.{s}",
            reach.lower @ about_axis(axis, 0.72 * twist),
            reach.middle + reach.lower @ rest,
        )
        bones.put(f"wrist.{s}", hand, reach.end)

    def _fingers(self, bones: Bones, s: Side, hand: Floats) -> None:
        rest = self.hand[s]
        flex = cross(rest.along, rest.palm)
        thumb = unit(0.7 * flex - 0.6 * rest.along * (1 if s == "L" else -1))
        for finger in range(1, 6):
            names = [f"finger{finger}-{k}.{s}" for k in (1, 2, 3)]
            palm_bone = self.body.labels[self.body.parents[self.body.index[names[0]]]]
            if finger > 1 and palm_bone.startswith("metacarpal"):
                bones.put(palm_bone, hand)
            bends, axis = (_THUMB_BENDS, thumb) if finger == 1 else (_FINGER_BENDS, flex)
            for name, total in zip(names, np.cumsum(bends), strict=True):
                bones.put(name, hand @ about_axis(axis, math.radians(float(total))))

    def _leg(
        self,
        bones: Bones,
        v: Values,
        s: Side,
        foot: tuple[Floats, Floats, Floats],
        pelvis: Floats,
        full: bool,
    ) -> float:
        """Hip to ankle; returns the distance not reached."""
        ankle, turned, toes = foot
        front = -_BACK
        bones.put(f"upperleg01.{s}", pelvis)
        hip = bones.at(f"upperleg01.{s}")
        pole = unit(toes @ front * 0.75 + pelvis @ front * 0.45 + np.array([0.0, 0.0, 0.05]))
        if s == "R":
            pole = unit(about_z(math.radians(v["trail_knee_in"] / 2)) @ pole)
        leg, body = self.leg[s], self.body
        reach = bend(leg, hip, ankle, pole)
        swung = turning(pelvis @ leg.upper_direction, reach.upper @ leg.upper_direction) @ pelvis
        bones.rotations[body.index[f"upperleg01.{s}"]] = between(swung, reach.upper, 0.4)
        rest = body.bone(f"upperleg02.{s}") - body.bone(f"upperleg01.{s}")
        bones.put(f"upperleg02.{s}", reach.upper, hip + reach.upper @ rest)
        bones.put(f"lowerleg01.{s}", reach.lower, reach.middle)
        bones.put(f"lowerleg02.{s}", reach.lower)
        bones.put(f"foot.{s}", turned, reach.end)
        if full:
            for toe in self._toes[s]:
                bones.put(toe, toes if s == "R" else turned)
        return reach.gap
