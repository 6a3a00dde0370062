"""The smoothest well-supported path of a direction through time, with an "unseen" way out."""

from __future__ import annotations

import numpy as np

from analysis.types import Floats

DEG_STEPS = 50
PER_DEG = 0.012
UNSEEN = 0.20
CHANGE_SIGHT = 0.35


def best_path(scores: Floats, unseen: float = UNSEEN) -> tuple[Floats, np.ndarray]:
    """Dynamic programming over direction and time.

    A direction costs its turn from the frame before (at most 50 degrees); "unseen" is a state of its own that
    is worth ``unseen`` in every frame, and after it the path starts anew at any direction: a shaft that points
    at the camera turns through anything between two frames.

    Parameters
    ----------
    scores : ndarray of shape (T, 360)
        Evidence per frame and whole degree.
    unseen : float
        Worth of a frame without an answer.

    Returns
    -------
    deg : ndarray of shape (T,)
        Degrees in 0..360 refined between the whole ones; NaN where unseen.
    seen : ndarray of shape (T,)
        Whether the path has a direction.

    Raises
    ------
    ValueError
        If ``scores`` is not (T, 360).
    """
    if scores.ndim != 2 or scores.shape[1] != 360:
        raise ValueError(f"scores must have shape (T, 360), got {scores.shape}")
    frames = len(scores)
    if frames == 0:
        return np.zeros(0), np.zeros(0, bool)
    turns = np.arange(-DEG_STEPS, DEG_STEPS + 1)
    cost = PER_DEG * np.abs(turns)[:, None]
    source = (np.arange(360)[None] - turns[:, None]) % 360
    back = np.full((frames, 361), 360)
    worth = np.append(scores[0], unseen)
    for k in range(1, frames):
        come = worth[:360][source] - cost
        best = come.argmax(0)
        value = come[best, np.arange(360)]
        anew = worth[360] - CHANGE_SIGHT
        origin = np.where(value >= anew, source[best, np.arange(360)], 360)
        last = int(worth[:360].argmax())
        stay = worth[360] >= worth[last] - CHANGE_SIGHT
        back[k] = np.append(origin, 360 if stay else last)
        hidden = max(worth[360], worth[last] - CHANGE_SIGHT) + unseen
        worth = np.append(np.maximum(value, anew) + scores[k], hidden)
    state = np.zeros(frames, int)
    state[-1] = int(worth.argmax())
    for k in range(frames - 1, 0, -1):
        state[k - 1] = back[k, state[k]]
    seen = state < 360
    deg = np.array([_refined(s, d) if d < 360 else np.nan for s, d in zip(scores, state, strict=True)])
    return deg, seen


def _refined(score: Floats, deg: int) -> float:
    """Top of the parabola through the score at a whole degree and its neighbours."""
    low, mid, high = score[deg - 1], score[deg], score[(deg + 1) % 360]
    bend = low - 2 * mid + high
    return float(deg) if bend >= 0 else float(deg + np.clip((low - high) / (2 * bend), -0.5, 0.5))
