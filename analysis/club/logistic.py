"""Logistic regression: the chance a row of features stands for, and its fit."""

from __future__ import annotations

import numpy as np

from analysis.types import Floats


def chance(features: Floats, weights: Floats) -> Floats:
    """Chances (N,) in 0..1 of feature rows (N, F); the last feature is the constant one."""
    return np.asarray(1 / (1 + np.exp(-np.clip(features @ weights, -60, 60))))


def logit(p: Floats) -> Floats:
    """Log odds of chances, kept within 1e-4 of certainty."""
    p = np.clip(p, 1e-4, 1 - 1e-4)
    return np.asarray(np.log(p / (1 - p)))


def fit_chance(features: Floats, success: np.ndarray, ridge: float = 1.0, rounds: int = 60) -> Floats:
    """Weights (F,) by Newton's method on the penalised likelihood.

    Parameters
    ----------
    features : ndarray of shape (N, F)
    success : ndarray of shape (N,)
        True or false.
    ridge : float
        Penalty on the squared weights.

    Raises
    ------
    ValueError
        If the shapes don't fit.
    """
    if features.ndim != 2 or success.shape != features.shape[:1]:
        raise ValueError(f"features (N, F) and success (N,) needed, got {features.shape}, {success.shape}")
    weights = np.zeros(features.shape[1])
    for _ in range(rounds):
        p = chance(features, weights)
        bend = (features * (p * (1 - p))[:, None]).T @ features + ridge * np.eye(len(weights))
        weights = weights + np.linalg.solve(bend, features.T @ (success - p) - ridge * weights)
    return weights
