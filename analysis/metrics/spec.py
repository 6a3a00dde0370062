"""What the registry knows about a metric."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from analysis.metrics.sampler import Sampler
from analysis.types import DOWN_THE_LINE, FACE_ON, Floats

Band = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class MetricSpec:
    """One row of the registry.

    ``definition`` and ``sign`` are shown to people. ``floor`` is a standard error added to the propagated
    one, in the metric's unit: what landmarks and projection are off beyond noise, from rendered clips.
    ``skilled`` is the band of the facts table with ``source`` and its ``grade`` (S, S2: a source was read;
    M: from memory; C: common practice, no study; K: computed). ``spread`` (0..1] narrows the propagated error where
    the joints that enter err together, from rendered clips.
    """

    name: str
    title: str
    unit: str
    views: tuple[str, ...]
    at: tuple[str, ...]
    definition: str
    sign: str
    compute: Callable[[Sampler], Floats]
    floor: float
    skilled: Band = (None, None)
    source: str = ""
    grade: str = ""
    least_fps: float = 0.0
    kind: str = "body"
    spread: float = 1.0


FACE_ON_ONLY = (FACE_ON,)
DTL_ONLY = (DOWN_THE_LINE,)
BOTH = (FACE_ON, DOWN_THE_LINE)
TRADE = "common practice, no study"


def row_of(
    views: tuple[str, ...],
    name: str,
    title: str,
    unit: str,
    at: tuple[str, ...],
    definition: str,
    sign: str,
    compute: Callable[[Sampler], Floats],
    floor: float,
    skilled: Band = (None, None),
    source: str = TRADE,
    grade: str = "C",
    least_fps: float = 0.0,
    kind: str = "body",
    spread: float = 1.0,
) -> MetricSpec:
    """A row whose band, where nothing else is said, is common practice of the trade."""
    return MetricSpec(
        name,
        title,
        unit,
        views,
        at,
        definition,
        sign,
        compute,
        floor,
        skilled,
        source,
        grade,
        least_fps,
        kind,
        spread,
    )
