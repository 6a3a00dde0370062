"""Maps the network should answer, from label rows; the same code for numpy and torch arrays.

``xp`` is the array module: ``numpy`` or ``torch``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from analysis.training.labels import CELLS, FIRST_VISIBLE, SHAFT_SHARES, SIDE

SHAFT_SIGMA_PX, POINT_SIGMA_PX = 3.2, 4.2
FIRST_SHARE, LAST_SHARE = 0.24, 1.0


@dataclass(frozen=True, slots=True)
class Targets:
    """For a batch of B samples.

    ``shaft`` (B, C, C) 0..1 where visible shaft is; ``direction`` (B, 2) unit, butt to head; ``visible`` (B,)
    share of the shaft in sight; ``inside`` (B, 3) whether grip, head and butt lie in the crop; ``length``
    (B,) butt to head in pixels.
    """

    shaft: Any
    direction: Any
    visible: Any
    inside: Any
    length: Any


def cell_centres(xp: Any, like: Any = None) -> Any:
    """Crop pixels (C,) of the cells' centres."""
    centres = xp.arange(CELLS) * 4 + 1.5
    return centres if like is None else centres.to(like.device)


def targets_of(xp: Any, points: Any, labels: Any, centres: Any) -> Targets:
    """Targets from points (B, 3, 2) grip, head, butt in crop pixels and label rows (B, 40)."""
    butt, along = points[:, 2], points[:, 1] - points[:, 2]
    length2 = xp.clip((along**2).sum(1), 1.0, None)
    length = xp.sqrt(length2)
    x = centres[None, None, :] - butt[:, 0][:, None, None]
    y = centres[None, :, None] - butt[:, 1][:, None, None]
    dx, dy = along[:, 0][:, None, None], along[:, 1][:, None, None]
    share = xp.clip((x * dx + y * dy) / length2[:, None, None], FIRST_SHARE, LAST_SHARE)
    away2 = (x - share * dx) ** 2 + (y - share * dy) ** 2
    seen, visible = 0.0 * share, 0.0 * length
    step = (SHAFT_SHARES[-1] - SHAFT_SHARES[0]) / (len(SHAFT_SHARES) - 1)
    nearest = xp.clip(xp.round((share - SHAFT_SHARES[0]) / step), 0, len(SHAFT_SHARES) - 1)
    for k, part in enumerate(SHAFT_SHARES.tolist()):
        place = butt + along * part
        inside = ((place > 0) & (place < SIDE - 1)).all(1)
        here = xp.where(inside, labels[:, FIRST_VISIBLE + k], 0.0 * length)
        seen = seen + xp.where(nearest == k, here[:, None, None], 0.0 * share)
        visible = visible + here / len(SHAFT_SHARES)
    shaft = xp.exp(-away2 / (2 * SHAFT_SIGMA_PX**2)) * seen
    inside = ((points > 1) & (points < SIDE - 2)).all(2)
    return Targets(shaft, along / length[:, None], visible, inside, length)


def point_map(xp: Any, point: Any, centres: Any) -> Any:
    """Share (B, C*C) of each cell in a Gaussian around a point (B, 2), sums to one near the crop."""
    x = centres[None, None, :] - point[:, 0][:, None, None]
    y = centres[None, :, None] - point[:, 1][:, None, None]
    hill = xp.exp(-(x**2 + y**2) / (2 * POINT_SIGMA_PX**2)).reshape(len(point), -1)
    return hill / xp.clip(hill.sum(1), 1e-6, None)[:, None]
