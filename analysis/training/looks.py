"""Outfits: the colours of skin and clothes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

Colour = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Look:
    """Linear colours of one outfit; ``stripe`` None is a plain shirt."""

    skin: Colour
    shirt: Colour
    trousers: Colour
    shoe: Colour
    cap: Colour
    hair: Colour
    glove: Colour
    stripe: Colour | None = None


LOOKS: Mapping[str, Look] = {
    "navy": Look(
        (0.62, 0.40, 0.29),
        (0.05, 0.10, 0.30),
        (0.55, 0.50, 0.40),
        (0.85, 0.85, 0.85),
        (0.9, 0.9, 0.9),
        (0.07, 0.045, 0.03),
        (0.88, 0.88, 0.86),
        (0.75, 0.78, 0.82),
    ),
    "red": Look(
        (0.33, 0.19, 0.12),
        (0.55, 0.06, 0.06),
        (0.06, 0.06, 0.07),
        (0.10, 0.10, 0.10),
        (0.05, 0.05, 0.06),
        (0.02, 0.015, 0.012),
        (0.88, 0.88, 0.86),
    ),
    "white": Look(
        (0.72, 0.50, 0.38),
        (0.80, 0.80, 0.80),
        (0.10, 0.13, 0.20),
        (0.75, 0.75, 0.75),
        (0.08, 0.15, 0.30),
        (0.20, 0.11, 0.05),
        (0.85, 0.85, 0.85),
        (0.10, 0.35, 0.30),
    ),
    "teal": Look(
        (0.52, 0.33, 0.22),
        (0.05, 0.38, 0.40),
        (0.30, 0.31, 0.33),
        (0.8, 0.8, 0.8),
        (0.7, 0.68, 0.6),
        (0.05, 0.03, 0.02),
        (0.1, 0.1, 0.1),
    ),
}
