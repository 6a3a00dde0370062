"""What is known of one training sample, as a row of numbers."""

from __future__ import annotations

import numpy as np

from analysis.types import Floats

SIDE, RENDER_SIDE, CELL = 256, 448, 4
CELLS = SIDE // CELL
SHAFT_SHARES = np.linspace(0.30, 0.97, 24)
POINTS = ("grip_x", "grip_y", "head_x", "head_y", "butt_x", "butt_y")
NAMES: tuple[str, ...] = (
    *POINTS,
    "head_visible",
    "grip_visible",
    "shaft_visible",
    "down_the_line",
    "s_from_impact",
    "stature_px",
    "blur_px",
    "gap_s",
    "has_club",
    "written",
    *(f"visible_{k}" for k in range(len(SHAFT_SHARES))),
)
INDEX = {name: k for k, name in enumerate(NAMES)}
FIRST_VISIBLE = INDEX["visible_0"]


def label_row(points: Floats, seen: np.ndarray, facts: dict[str, float]) -> np.ndarray:
    """One row of labels.

    Parameters
    ----------
    points : ndarray of shape (27, 2)
        Grip, head, butt, then 24 points along the shaft (``SHAFT_SHARES``), crop pixels.
    seen : ndarray of shape (27,)
        Which of them are in the picture with nothing in front.
    facts : dict
        The other names of ``NAMES``; missing ones are 0.

    Returns
    -------
    ndarray of shape (40,)
        float32, in the order of ``NAMES``.

    Raises
    ------
    ValueError
        If the shapes don't fit or a fact's name is unknown.
    """
    count = 3 + len(SHAFT_SHARES)
    if points.shape != (count, 2) or seen.shape != (count,):
        raise ValueError(f"points must be ({count}, 2) and seen ({count},), got {points.shape}, {seen.shape}")
    row = np.zeros(len(NAMES), np.float32)
    row[: len(POINTS)] = points[:3].ravel()
    for name, value in facts.items():
        if name not in INDEX:
            raise ValueError(f"facts must be named as in NAMES, got {name!r}")
        row[INDEX[name]] = value
    row[INDEX["grip_visible"]], row[INDEX["head_visible"]] = float(seen[0]), float(seen[1])
    row[INDEX["shaft_visible"]] = float(seen[3:].mean())
    row[FIRST_VISIBLE:] = seen[3:]
    return row
