"""A small damped least-squares search inside a box."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from analysis.types import Floats


def bounded_least_squares(
    residual: Callable[[Floats], Floats],
    start: Floats,
    steps: Floats,
    low: Floats,
    high: Floats,
    sizes: Floats,
    rounds: int = 25,
) -> Floats:
    """Minimise the sum of squares of ``residual`` (Levenberg-Marquardt, slopes by differences).

    Parameters
    ----------
    residual : callable
        Vector of misfits for parameters (N,).
    start, steps, low, high, sizes : ndarray of shape (N,)
        First guess, steps of the differences, the box, and usual sizes that scale the damping.
    rounds : int
        At most this many accepted or refused steps.

    Returns
    -------
    ndarray of shape (N,)
    """
    x, damping = np.clip(start, low, high), 1e-3
    r = residual(x)
    for _ in range(rounds):
        slopes = np.stack([(residual(x + h) - r) / h.max() for h in np.diag(steps)], 1) * sizes
        normal = slopes.T @ slopes
        move = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -slopes.T @ r) * sizes
        tried = np.clip(x + move, low, high)
        r_tried = residual(tried)
        gain = float(r @ r - r_tried @ r_tried)
        if gain > 0:
            small = gain < 1e-3 * float(r @ r)
            x, r, damping = tried, r_tried, damping / 5
            if small:
                break
        else:
            damping *= 10
            if damping > 1e6:
                break
    return x
