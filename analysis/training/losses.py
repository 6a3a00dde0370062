"""Losses of the shaft network; the same code for numpy and torch arrays (``xp``)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from analysis.training.labels import INDEX
from analysis.training.targets import Targets, point_map

SHORT_PX = 25.0
# Chebyshev-like polynomials for I0 (Abramowitz & Stegun 9.8.1 and 9.8.2), relative error below 2e-7.
_SMALL = (1.0, 3.5156229, 3.0899424, 1.2067492, 0.2659732, 0.0360768, 0.0045813)
_LARGE = (
    0.39894228, 0.01328592, 0.00225319, -0.00157565, 0.00916281, -0.02057706, 0.02635537, -0.01647633, 0.00392377,
)  # fmt: skip


def log_i0(xp: Any, kappa: Any) -> Any:
    """Logarithm of the modified Bessel function I0 for kappa >= 0."""
    small = (xp.clip(kappa, 0.0, 3.75) / 3.75) ** 2
    large = 3.75 / xp.clip(kappa, 3.75, None)
    low, high = 0.0 * kappa, 0.0 * kappa
    for factor in reversed(_SMALL):
        low = low * small + factor
    for factor in reversed(_LARGE):
        high = high * large + factor
    big = xp.clip(kappa, 3.75, None)
    return xp.where(kappa < 3.75, xp.log(low), big + xp.log(high) - 0.5 * xp.log(big))


def von_mises(xp: Any, vector: Any, unit: Any) -> Any:
    """Negative log likelihood of a direction, less log 2 pi; axis 1 holds x and y.

    The vector's direction is the mean, its length the concentration.
    """
    kappa = xp.sqrt(xp.clip((vector**2).sum(1), 1e-12, None))
    return log_i0(xp, kappa) - (vector * unit).sum(1)


def cross_entropy(xp: Any, logit: Any, share: Any) -> Any:
    """Binary cross entropy of a logit against a share 0..1."""
    return xp.clip(logit, 0.0, None) - logit * share + xp.log(1 + xp.exp(-xp.abs(logit)))


def point_entropy(xp: Any, logits: Any, wanted: Any) -> Any:
    """Cross entropy (B,) of a map of logits (B, C, C) against shares (B, C*C)."""
    flat = logits.reshape(len(logits), -1)
    top = xp.max(flat) if xp.__name__ == "numpy" else flat.max().detach()
    log_sum = xp.log(xp.exp(flat - top).sum(1)) + top
    return (wanted * (log_sum[:, None] - flat)).sum(1)


@dataclass(frozen=True, slots=True)
class Losses:
    """Parts of the loss, each a mean over the batch."""

    shaft: Any
    direction: Any
    grip: Any
    head: Any
    seen: Any
    clip_direction: Any

    @property
    def total(self) -> Any:
        """Weighted sum."""
        return (
            self.shaft
            + 0.8 * self.direction
            + 0.35 * (self.grip + self.head)
            + 0.4 * (self.seen + self.clip_direction)
        )


def losses_of(xp: Any, dense: Any, clip: Any, points: Any, labels: Any, t: Targets, centres: Any) -> Losses:
    """Losses of the maps (B, 5, C, C) and clip-level numbers (B, 4) of a batch.

    Short shafts count less for the direction: a pixel is many degrees there. Clubheads out of sight count
    little, those outside the crop nothing.
    """
    count = len(labels)
    weigh = cross_entropy(xp, dense[:, 0], t.shaft) * (1 + 6 * t.shaft)
    long = xp.clip(t.length / SHORT_PX, 0.0, 1.0)
    on_shaft = (t.shaft > 0.3) * long[:, None, None]
    # von_mises sums over axis 1: x and y of the maps, and of the wanted direction at every cell.
    wanted = t.direction[:, :, None, None] + 0.0 * dense[:, 1:3]
    per_cell = von_mises(xp, dense[:, 1:3], wanted)
    direction = (per_cell * on_shaft).sum() / xp.clip(on_shaft.sum(), 1.0, None)
    club, head_seen = labels[:, INDEX["has_club"]], labels[:, INDEX["head_visible"]]
    grip = (
        point_entropy(xp, dense[:, 3], point_map(xp, points[:, 0], centres)) * t.inside[:, 0]
    ).sum() / count
    head_weight = t.inside[:, 1] * club * (0.15 + 0.85 * head_seen)
    head = (point_entropy(xp, dense[:, 4], point_map(xp, points[:, 1], centres)) * head_weight).sum() / count
    seen = cross_entropy(xp, clip[:, 0], xp.clip(t.visible, 0.0, 1.0))
    seen = seen + cross_entropy(xp, clip[:, 1], head_seen * t.inside[:, 1])
    clip_weight = club * (0.2 + 0.8 * (t.visible > 0.4)) * long
    clip_direction = (von_mises(xp, clip[:, 2:], t.direction) * clip_weight).sum() / count
    return Losses(weigh.mean() * 12, direction, grip, head, seen.mean(), clip_direction)
