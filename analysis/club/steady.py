"""How sure an answer of the network is, once its neighbours in time and the shaft's length are known.

The network looks at single frames. A shaft that points along the camera's axis is short in the picture, and
there one pixel is many degrees; and a club can't jump: where the frames around tell of another projected
shaft, one of them is wrong.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.club.logistic import chance, logit
from analysis.geometry import wrap_deg
from analysis.types import ClubTrack, Floats

SPAN_S = 0.075
LEAST_NEIGHBOURS = 0.5
# Fitted on 63 rendered clips (success = direction within 5 degrees) and 180 frames of them turned aside by 30
# degrees and more, since rendered clips hold few distractors: single-frame log odds, log of length and of the
# neighbours' length, their turn apart (plain and root), the jump at equal length, constant (0.2 above the fit: a
# few more frames are answered, as many as the errors among them allow).
WEIGHTS = np.array([0.552, 0.3882, 1.9022, -1.5115, -0.5755, -6.5432, 4.7294])


def steadied(club: ClubTrack, stature_px: float, stretch: float = 1.0) -> ClubTrack:
    """The same directions with their confidence judged anew.

    Parameters
    ----------
    club : ClubTrack
        Single-frame answers of the network.
    stature_px : float
        Standing height in pixels.
    stretch : float
        Slow-motion factor of the clip.

    Returns
    -------
    ClubTrack

    Raises
    ------
    ValueError
        If the height is not positive.
    """
    if not stature_px > 0:
        raise ValueError(f"stature_px must be positive, got {stature_px}")
    features, known = steady_features(club, stature_px, stretch)
    confidence = np.where(known, chance(features, WEIGHTS), club.confidence)
    return replace(club, confidence=confidence)


def steady_features(club: ClubTrack, stature_px: float, stretch: float = 1.0) -> tuple[Floats, np.ndarray]:
    """Feature rows (K, 7) of every frame, and whether it has neighbours to be judged by."""
    angle = np.radians(club.deg)
    length = np.hypot(*(club.head_xy - club.grip_xy).T) / stature_px
    shaft = length[:, None] * np.stack([np.cos(angle), np.sin(angle)], 1)
    near, mass = _neighbours_say(club.t_s, shaft, np.maximum(club.confidence, 0.02), SPAN_S * stretch)
    turn = np.abs(wrap_deg(np.degrees(np.arctan2(near[:, 1], near[:, 0])) - club.deg))
    shorter = np.minimum(length, np.hypot(*near.T))
    jump = 2 * shorter * np.sin(np.radians(turn) / 2)
    turn = np.minimum(turn, 60) / 60
    columns = [
        logit(club.confidence),
        np.log(length + 0.03),
        np.log(np.hypot(*near.T) + 0.03),
        turn,
        np.sqrt(turn),
        np.minimum(jump, 0.3) / 0.3,
        np.ones(len(length)),
    ]
    return np.stack(columns, 1), mass >= LEAST_NEIGHBOURS


def _neighbours_say(t_s: Floats, shaft: Floats, trust: Floats, span: float) -> tuple[Floats, Floats]:
    """Each frame's projected shaft as a weighted parabola through its neighbours, itself left out."""
    said, mass = np.zeros_like(shaft), np.zeros(len(t_s))
    penalty = np.diag([1e-4, 1e-3, 3e-2])
    for k, t in enumerate(t_s):
        rows = slice(*np.searchsorted(t_s, [t - span - 1e-9, t + span + 1e-9]))
        x = (t_s[rows] - t) / span
        weight = trust[rows] * np.exp(-0.5 * (2.2 * x) ** 2)
        weight[k - rows.start] = 0.0
        powers = np.stack([np.ones_like(x), x, x * x], 1)
        weighted = powers * weight[:, None]
        said[k] = np.linalg.solve(powers.T @ weighted + penalty, weighted.T @ shaft[rows])[0]
        mass[k] = weight.sum()
    return said, mass
