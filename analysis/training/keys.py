"""Key values of a swing: what each of its thirty tracks is worth at which time.

The numbers are drawn by eye and checked by the swing's own figures (an upright, plausible swing whose faults
show); they are no measurement of golfers. Angles in degrees, lengths in metres.
"""

from __future__ import annotations

import numpy as np

from analysis.training.clubs import ClubShape
from analysis.training.parameters import Clock, Faults, SwingParameters

Keys = dict[str, list[tuple[float, float]]]

# Spread of drawn swings at jitter 1: factor on the whole track, and shift of single keys.
_SCALE = {
    "hinge": 0.175,
    "arm_angle": 0.0875,
    "pelvis_yaw": 0.1875,
    "thorax_yaw": 0.125,
    "palm_roll": 0.1875,
    "arm_plane": 0.0625,
    "club_plane": 0.075,
}
_SHIFT = {
    "hinge": 7.5,
    "arm_angle": 5.0,
    "arm_plane": 5.0,
    "club_plane": 6.25,
    "palm_roll": 10.0,
    "thorax_lateral": 3.75,
    "thorax_tilt": 3.75,
    "lead_protraction": 7.5,
    "trail_protraction": 7.5,
    "head_yaw": 10.0,
    "head_tilt": 7.5,
    "pelvis_x": 0.019,
    "pelvis_y": 0.019,
}


def swing_keys(p: SwingParameters) -> Keys:
    """Keys ``(time, value)`` of every track, in order of time, with the jitter of ``p`` applied."""
    clock, faults, club = Clock.of(p), p.faults, p.shape
    keys: Keys = {}
    for part in (_trunk, _lead_arm, _club, _shoulders, _head, _feet):
        keys |= part(clock, faults, club)
    return _jittered(keys, p) if p.jitter > 0 else keys


def _jittered(keys: Keys, p: SwingParameters) -> Keys:
    draw = np.random.default_rng(p.seed + 991)
    out: Keys = {}
    for name, track in keys.items():
        factor = 1 + p.jitter * _SCALE.get(name, 0.0) * draw.normal()
        wide = p.jitter * _SHIFT.get(name, 0.0)
        whole = 0.8 * wide * draw.normal()
        out[name] = [
            (t, v * factor + whole + wide * draw.normal() * (0.6 if t > p.address_s else 0.0))
            for t, v in track
        ]
    out["finish_blend"] = [(t, min(1.0, max(0.0, v))) for t, v in out["finish_blend"]]
    out["arm_reach"] = [(t, min(0.99, v)) for t, v in out["arm_reach"]]
    return out


def _trunk(c: Clock, f: Faults, club: ClubShape) -> Keys:
    """Pelvis and thorax: turns, tilts (degrees), place of the pelvis (m; height as a share of the straight leg)."""
    return {
        "pelvis_yaw": [
            (0.0, 0),
            (c.address, 0),
            (c.back(0.25), -8),
            (c.back(0.6), -30),
            (c.back(0.93), -44 * c.turn_scale),
            (c.down(0.15), -38 + 6 * f.over_the_top),
            (c.down(0.5), -4 - 4 * f.slide),
            (c.down(0.8), 24 - 14 * f.slide - 6 * f.hanging_back),
            (
                c.impact,
                40 - 24 * f.stalled_finish - 24 * f.slide - 12 * f.hanging_back - 8 * f.early_extension,
            ),
            (c.through(0.2), 62 - 38 * f.stalled_finish - 22 * f.slide - 14 * f.hanging_back),
            (c.through(0.5), 88 - 52 * f.stalled_finish - 6 * f.slide - 14 * f.hanging_back),
            (c.finish, 98 - 58 * f.stalled_finish - 14 * f.hanging_back),
            (c.end, 98 - 58 * f.stalled_finish - 14 * f.hanging_back),
        ],
        "thorax_yaw": [
            (0.0, 0),
            (c.address, 0),
            (c.back(0.25), -22),
            (c.back(0.6), -64),
            (c.top, (-92 - 8 * f.overlong) * c.turn_scale),
            (c.down(0.2), -84 + 22 * f.over_the_top),
            (c.down(0.5), -42 + 28 * f.over_the_top),
            (c.down(0.8), -2 + 18 * f.over_the_top),
            (c.impact, 22 - 6 * f.stalled_finish + 7 * f.over_the_top - 4 * f.hanging_back),
            (c.through(0.2), 58 - 18 * f.stalled_finish),
            (c.through(0.5), 96 - 34 * f.stalled_finish - 8 * f.hanging_back),
            (c.finish, 116 - 42 * f.stalled_finish - 12 * f.hanging_back),
            (c.end, 117 - 42 * f.stalled_finish - 12 * f.hanging_back),
        ],
        "pelvis_tilt": [
            (0.0, 20),
            (c.address, 20),
            (c.top, 18),
            (c.down(0.5), 16 - 6 * f.early_extension),
            (c.impact, 12 - 14 * f.early_extension),
            (c.through(0.4), 3 + 4 * f.stalled_finish - 3 * f.early_extension),
            (c.finish, -2 + 6 * f.stalled_finish),
            (c.end, -2 + 6 * f.stalled_finish),
        ],
        "thorax_tilt": [
            (0.0, 27),
            (c.address, 27),
            (c.top, 28),
            (c.down(0.5), 32 - 7 * f.early_extension + 3 * f.slide),
            (c.impact, 34 - 17 * f.early_extension + 5 * f.slide + 3 * f.early_release),
            (c.through(0.25), 31 - 13 * f.early_extension),
            (c.through(0.6), 16 + 8 * f.stalled_finish),
            (c.finish, 4 + 10 * f.stalled_finish),
            (c.end, 4 + 10 * f.stalled_finish),
        ],
        "thorax_lateral": [
            (0.0, -8 - 3 * club.teed),
            (c.address, -8 - 3 * club.teed),
            (c.top, -6 - 2 * club.teed + 20 * f.reverse_spine),
            (c.down(0.5), -9 + 10 * f.reverse_spine - 8 * f.slide - 6 * f.hanging_back),
            (c.impact, -12 - 3 * club.teed - 7 * f.slide - 18 * f.hanging_back),
            (c.through(0.3), -12 - 4 * f.slide - 18 * f.hanging_back),
            (c.finish, -6 - 11 * f.hanging_back),
            (c.end, -6 - 11 * f.hanging_back),
        ],
        "pelvis_lateral": [
            (0.0, 0),
            (c.address, 0),
            (c.top, 2),
            (c.impact, -3 - 3 * f.hanging_back),
            (c.finish, 0),
            (c.end, 0),
        ],
        "pelvis_x": [
            (0.0, 0.0),
            (c.address, 0),
            (c.back(0.5), -0.012 - 0.07 * f.sway),
            (c.top, -0.005 + 0.03 * f.reverse_spine - 0.12 * f.sway),
            (c.down(0.5), 0.045 + 0.075 * f.slide - 0.05 * f.hanging_back - 0.04 * f.sway),
            (
                c.impact,
                0.085
                - 0.035 * f.stalled_finish
                - 0.03 * f.early_release
                + 0.125 * f.slide
                - 0.085 * f.hanging_back,
            ),
            (c.through(0.3), 0.12 - 0.05 * f.stalled_finish + 0.085 * f.slide - 0.11 * f.hanging_back),
            (c.finish, 0.165 - 0.09 * f.stalled_finish + 0.02 * f.slide - 0.115 * f.hanging_back),
            (c.end, 0.165 - 0.09 * f.stalled_finish + 0.02 * f.slide - 0.115 * f.hanging_back),
        ],
        "pelvis_y": [
            (0.0, 0.085),
            (c.address, 0.085),
            (c.top, 0.085),
            (c.down(0.5), 0.085 - 0.05 * f.early_extension),
            (c.impact, 0.075 - 0.095 * f.early_extension),
            (c.through(0.2), 0.065 - 0.085 * f.early_extension),
            (c.through(0.5), 0.045 - 0.05 * f.early_extension),
            (c.finish, 0.03),
            (c.end, 0.03),
        ],
        "pelvis_height": [
            (0.0, 0.981),
            (c.address, 0.981),
            (c.top, 0.978),
            (c.down(0.5), 0.960 - 0.01 * f.early_extension - 0.01 * f.slide),
            (
                c.impact,
                0.972
                - 0.026 * (f.early_extension + f.slide + f.early_release)
                - 0.03 * f.over_the_top
                - 0.02 * f.hanging_back,
            ),
            (c.through(0.4), 0.988),
            (c.finish, 0.99),
            (c.end, 0.99),
        ],
    }


def _lead_arm(c: Clock, f: Faults, club: ClubShape) -> Keys:
    """Lead arm: angle in its plane (0 = down the plane, + = away from the target), plane, reach, finish."""
    return {
        "arm_angle": [
            (0.0, 16 + 0.4 * club.hands_change),
            (c.address, 16 + 0.4 * club.hands_change),
            (c.back(0.2), 31),
            (c.back(0.45), 64),
            (c.back(0.75), 115),
            (c.top, 138 + 18 * f.overlong),
            (c.down(0.2), 127 + 18 * f.overlong),
            (c.down(0.45), 97),
            (c.down(0.7), 54),
            (c.down(0.86), 29 + 5 * f.early_release),
            (c.impact, 10 + 14 * f.early_release),
            (
                c.through(0.1),
                -25
                + 12 * f.early_release
                + 10 * f.stalled_finish
                + 7 * f.early_extension
                + 5 * f.hanging_back,
            ),
            (c.through(0.22), -60 + 14 * f.stalled_finish + 6 * f.early_extension + 8 * f.hanging_back),
            (c.through(0.4), -96 + 6 * (f.stalled_finish + f.hanging_back)),
            (c.finish, -120),
            (c.end, -120),
        ],
        "arm_plane": [
            (0.0, 71 + club.arm_plane_change),
            (c.address, 71 + club.arm_plane_change),
            (c.back(0.3), 67 + club.arm_plane_change),
            (c.back(0.6), 60),
            (c.top, 52 + 8 * f.steep),
            (c.down(0.4), 55 + 17 * f.steep),
            (c.down(0.75), 66 + 8 * f.steep),
            (c.impact, 69 + club.arm_plane_change),
            (c.through(0.25), 66),
            (c.through(0.5), 55),
            (c.finish, 55),
            (c.end, 55),
        ],
        "plane_yaw": [
            (0.0, 0),
            (c.address, 0),
            (c.top, 0),
            (c.down(0.2), 12 * f.over_the_top),
            (c.down(0.45), 20 * f.over_the_top),
            (c.down(0.75), 15 * f.over_the_top),
            (c.impact, 7 * f.over_the_top),
            (c.through(0.4), 4 * f.over_the_top),
            (c.finish, 0),
            (c.end, 0),
        ],
        "arm_reach": [
            (0.0, 0.9962),
            (c.address, 0.9962),
            (c.top, 0.989),
            (c.down(0.6), 0.993),
            (c.impact, 0.9965),
            (c.through(0.05), 0.9965 - 0.022 * f.arm_collapse),
            (c.through(0.12), 0.995 - 0.165 * f.arm_collapse),
            (c.through(0.3), 0.98 - 0.17 * f.arm_collapse),
            (c.through(0.6), 0.9 - 0.06 * f.arm_collapse),
            (c.finish, 0.85),
            (c.end, 0.85),
        ],
        "finish_blend": [
            (0.0, 0),
            (c.through(0.18), 0),
            (c.through(0.45), 0.5),
            (c.through(0.75), 0.93),
            (c.finish, 1),
            (c.end, 1),
        ],
        "lead_elbow_out": [
            (0.0, 0),
            (c.impact, 0),
            (c.through(0.1), f.arm_collapse),
            (c.through(0.5), 0.6 * f.arm_collapse),
            (c.finish, 0),
            (c.end, 0),
        ],
    }


def _club(c: Clock, f: Faults, club: ClubShape) -> Keys:
    """Club: in-plane angle to the arm, roll of the lead palm about the shaft, the plane it moves in."""
    return {
        "hinge": [
            (0.0, -15 + 0.6 * club.hands_change),
            (c.address, -15 + 0.6 * club.hands_change),
            (c.back(0.2), 2 - 4 * f.poor_hinge),
            (c.back(0.35), 34 - 16 * f.poor_hinge),
            (c.back(0.52), 66 - 34 * f.poor_hinge),
            (c.back(0.7), 88 - 52 * f.poor_hinge),
            (c.back(0.9), 98 + 13 * f.overlong - 57 * f.poor_hinge),
            (c.top, 104 + 24 * f.overlong - 58 * f.poor_hinge),
            (c.down(0.2), 109 + 24 * f.overlong - 58 * f.poor_hinge - 22 * f.early_release),
            (c.down(0.45), 100 - 42 * f.early_release - 52 * f.poor_hinge),
            (c.down(0.7), 90 - 56 * f.early_release - 42 * f.poor_hinge),
            (c.down(0.86), 58 - 44 * f.early_release - 16 * f.poor_hinge),
            (c.impact, -5 - 26 * f.early_release),
            (c.through(0.1), -58 - 4 * f.early_release),
            (c.through(0.22), -94),
            (c.through(0.4), -125 + 15 * f.stalled_finish),
            (c.through(0.7), -158 + 62 * f.stalled_finish),
            (c.finish, -172 + 84 * f.stalled_finish),
            (c.end, -172 + 84 * f.stalled_finish),
        ],
        "palm_roll": [
            (0.0, 0),
            (c.address, 0),
            (c.back(0.25), 18),
            (c.back(0.45), 52),
            (c.back(0.7), 80),
            (c.top, 90),
            (c.down(0.45), 90),
            (c.down(0.7), 78),
            (c.down(0.86), 50),
            (c.impact, 2),
            (c.through(0.1), -52 + 14 * f.hanging_back + 34 * f.arm_collapse),
            (c.through(0.22), -82 + 12 * f.hanging_back + 44 * f.arm_collapse),
            (c.through(0.45), -98 + 20 * f.arm_collapse),
            (c.finish, -105),
            (c.end, -105),
        ],
        "club_plane": [
            (0.0, 57 + club.plane_change),
            (c.address, 57 + club.plane_change),
            (c.back(0.4), 57 + 0.8 * club.plane_change),
            (c.back(0.7), 60 + 0.5 * club.plane_change + 4 * f.steep),
            (c.top, 56 + 0.3 * club.plane_change + 10 * f.steep),
            (c.down(0.35), 54 + 0.5 * club.plane_change + 20 * f.steep),
            (c.down(0.7), 56 + 0.8 * club.plane_change + 16 * f.steep),
            (c.impact, 58 + club.plane_change + 4 * f.early_extension),
            (c.through(0.2), 57 + club.plane_change),
            (c.through(0.5), 48 + 6 * f.stalled_finish),
            (c.finish, 34 + 26 * f.stalled_finish),
            (c.end, 34 + 26 * f.stalled_finish),
        ],
    }


def _shoulders(c: Clock, f: Faults, club: ClubShape) -> Keys:
    """Shoulder girdle and the trail palm about the shaft."""
    return {
        "lead_protraction": [
            (0.0, 8),
            (c.address, 8),
            (c.top, 24),
            (c.impact, 10 + 14 * f.early_extension),
            (c.through(0.5), 0),
            (c.finish, 0),
            (c.end, 0),
        ],
        "lead_elevation": [
            (0.0, -6),
            (c.address, -6),
            (c.top, 4),
            (c.down(0.7), -11 - 6 * (f.early_extension + f.slide)),
            (
                c.impact,
                -1
                - 10 * (f.early_extension + f.slide + f.over_the_top)
                - 6 * f.early_release
                - 4 * f.hanging_back,
            ),
            (c.through(0.15), 10 - 10 * (f.early_extension + f.slide)),
            (c.finish, 12),
            (c.end, 12),
        ],
        "trail_protraction": [
            (0.0, 30 + 0.6 * abs(club.hands_change)),
            (c.address, 30 + 0.6 * abs(club.hands_change)),
            (c.top, 4),
            (c.impact, 24 + 4 * f.early_extension),
            (c.through(0.1), 32 + 10 * (f.stalled_finish + f.early_extension)),
            (c.through(0.25), 30 + 10 * (f.stalled_finish + f.early_extension)),
            (c.finish, 24),
            (c.end, 24),
        ],
        "trail_elevation": [
            (0.0, -12),
            (c.address, -12),
            (c.top, 8),
            (c.impact, -12),
            (c.through(0.15), -12),
            (c.finish, 6),
            (c.end, 6),
        ],
        "trail_palm_turn": [
            (0.0, 12),
            (c.top, 12),
            (c.impact, 12 - 6 * f.hanging_back),
            (c.through(0.3), 12 - 6 * f.hanging_back),
            (c.finish, 12),
            (c.end, 12),
        ],
    }


def _head(c: Clock, f: Faults, club: ClubShape) -> Keys:
    """Head in space, degrees."""
    return {
        "head_yaw": [
            (0.0, 0),
            (c.address, 0),
            (c.top, -16),
            (c.impact, -8),
            (c.through(0.2), 4),
            (c.through(0.5), 48),
            (c.finish, 84 - 20 * f.stalled_finish),
            (c.end, 86 - 20 * f.stalled_finish),
        ],
        "head_tilt": [
            (0.0, 46),
            (c.address, 46),
            (c.top, 44),
            (c.impact, 46 - 8 * f.early_extension),
            (c.through(0.2), 42),
            (c.through(0.6), 14),
            (c.finish, 2),
            (c.end, 2),
        ],
        "head_lateral": [
            (0.0, -3),
            (c.address, -3),
            (c.top, 0 + 8 * f.reverse_spine),
            (c.impact, -12 - 6 * f.hanging_back - 4 * f.slide),
            (c.through(0.3), -14 - 8 * f.hanging_back),
            (c.finish, -3 - 6 * f.hanging_back),
            (c.end, -3 - 6 * f.hanging_back),
        ],
    }


def _feet(c: Clock, f: Faults, club: ClubShape) -> Keys:
    """Trail foot about its ball, lead foot to its outside, trail knee inward; degrees."""
    return {
        "trail_heel_pitch": [
            (0.0, 0),
            (c.address, 0),
            (c.down(0.55), 2 - 2 * f.stalled_finish - 2 * f.hanging_back),
            (c.impact, 18 - 16 * f.stalled_finish - 18 * f.hanging_back + 6 * f.slide),
            (c.through(0.2), 30 - 26 * f.stalled_finish - 28 * f.hanging_back),
            (c.through(0.5), 58 - 48 * f.stalled_finish - 44 * f.hanging_back),
            (c.finish, 72 - 60 * f.stalled_finish - 46 * f.hanging_back),
            (c.end, 72 - 60 * f.stalled_finish - 46 * f.hanging_back),
        ],
        "trail_foot_yaw": [
            (0.0, 0),
            (c.address, 0),
            (c.down(0.5), 0),
            (c.impact, 10 - 10 * f.hanging_back),
            (c.through(0.3), 30 - 18 * f.stalled_finish - 24 * f.hanging_back),
            (c.finish, 62 - 50 * f.stalled_finish - 30 * f.hanging_back),
            (c.end, 62 - 50 * f.stalled_finish - 30 * f.hanging_back),
        ],
        "lead_foot_roll": [(0.0, 0), (c.down(0.5), 0), (c.impact, 4 * f.slide), (c.finish, 6), (c.end, 6)],
        "trail_knee_in": [
            (0.0, 0),
            (c.address, 0),
            (c.top, -4),
            (c.impact, 14 + 8 * f.slide - 10 * f.hanging_back),
            (c.finish, 40 - 24 * f.stalled_finish - 18 * f.hanging_back),
            (c.end, 40 - 24 * f.stalled_finish - 18 * f.hanging_back),
        ],
    }
