"""From line evidence over time to a shaft track with its own confidence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from analysis.club.logistic import chance
from analysis.club.path import best_path
from analysis.geometry import wrap_deg
from analysis.types import ClubTrack, Floats

RIVAL_DEG = 12
NO_NEIGHBOUR_DEG = 20.0
# Fitted on 50 rendered clips with hands from pictures (success = direction within 5 degrees): score, line,
# motion, lead over the next best direction, length, spread of the hands' places, turn against the neighbours,
# mean score of the frames around, constant.
WEIGHTS = np.array([0.6752, -1.4017, 2.9486, 4.5918, -3.6956, -2.6959, -1.4056, 2.3097, 0.2413])


class Evidence(Protocol):
    """What a frame's lines say over the directions 0..359 degrees, each (360,)."""

    @property
    def score(self) -> Floats: ...
    @property
    def line(self) -> Floats: ...
    @property
    def motion(self) -> Floats: ...
    @property
    def length(self) -> Floats: ...
    @property
    def origin(self) -> np.ndarray: ...


def search_track(t_s: Floats, evidence: Sequence[Evidence], hands: Floats, stature_px: float) -> ClubTrack:
    """The smoothest supported path through the evidence.

    Parameters
    ----------
    t_s : ndarray of shape (K,)
        Times of neighbouring frames.
    evidence : sequence of K
    hands : ndarray of shape (K, P, 2)
        The possible places of the hands that the evidence was gathered from, pixels.
    stature_px : float
        Standing height in pixels.

    Returns
    -------
    ClubTrack
        ``by_lines`` everywhere; confidence 0 where the path is unseen. The clubhead is not found: ``head_xy``
        is where the line ends, ``head_confidence`` 0.
    """
    if not len(t_s):
        return ClubTrack.empty()
    scores = np.array([e.score for e in evidence])
    deg, seen = best_path(scores)
    whole = np.where(seen, np.round(np.nan_to_num(deg)), 0).astype(int) % 360
    features = line_features(evidence, hands, stature_px, deg, seen, whole)
    frame = np.arange(len(t_s))
    place = np.array([e.origin[w] for e, w in zip(evidence, whole, strict=True)])
    grip = hands[frame, place]
    reach = np.array([e.length[w] for e, w in zip(evidence, whole, strict=True)]) * stature_px
    angle = np.radians(np.nan_to_num(deg))
    head = grip + reach[:, None] * np.stack([np.cos(angle), np.sin(angle)], 1)
    return ClubTrack(
        t_s,
        np.asarray(wrap_deg(np.nan_to_num(deg))),
        np.where(seen, chance(features, WEIGHTS), 0.0),
        grip,
        head,
        np.zeros(len(t_s)),
        np.ones(len(t_s), bool),
    )


def line_features(
    evidence: Sequence[Evidence],
    hands: Floats,
    stature_px: float,
    deg: Floats,
    seen: np.ndarray,
    whole: np.ndarray,
) -> Floats:
    """Feature rows (K, 9) of the confidence for a path ``deg`` with its whole degrees."""
    frame = np.arange(len(deg))
    scores = np.array([e.score for e in evidence])
    at = {
        name: np.array([getattr(e, name) for e in evidence])[frame, whole]
        for name in ("line", "motion", "length")
    }
    score = scores[frame, whole]
    away = np.abs(wrap_deg(np.arange(360)[None] - whole[:, None])) > RIVAL_DEG
    lead = score - np.where(away, scores, -np.inf).max(1)
    spread = np.hypot(*np.moveaxis(hands - np.median(hands, axis=1)[:, None], -1, 0)).max(1) / stature_px
    near = [
        np.mean(score[max(0, k - 2) : k + 3][seen[max(0, k - 2) : k + 3]]) if seen[k] else 0.0 for k in frame
    ]
    columns = [
        np.minimum(score, 1.5),
        at["line"],
        at["motion"],
        np.clip(lead, -0.5, 0.8),
        at["length"],
        np.minimum(spread, 0.3),
        np.minimum(_turn_apart(deg), NO_NEIGHBOUR_DEG) / NO_NEIGHBOUR_DEG,
        np.array(near),
        np.ones(len(deg)),
    ]
    return np.stack(columns, 1)


def _turn_apart(deg: Floats) -> Floats:
    """Degrees between each direction and the middle of its two neighbours; the cap where one is missing."""
    out = np.full(len(deg), NO_NEIGHBOUR_DEG)
    if len(deg) > 2:
        before, after = deg[:-2], deg[2:]
        out[1:-1] = np.abs(wrap_deg(before + np.asarray(wrap_deg(after - before)) / 2 - deg[1:-1]))
    return np.where(np.isfinite(out), out, NO_NEIGHBOUR_DEG)
