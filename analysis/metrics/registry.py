"""All metrics by view."""

from __future__ import annotations

from analysis.metrics import both, down_the_line, face_on
from analysis.metrics.spec import MetricSpec
from analysis.types import FACE_ON, VIEWS

ALL: tuple[MetricSpec, ...] = both.METRICS + face_on.METRICS + down_the_line.METRICS


def metrics_of(view: str) -> tuple[MetricSpec, ...]:
    """The rows a view can give.

    Raises
    ------
    ValueError
        If ``view`` is not one of ``types.VIEWS``.
    """
    if view not in VIEWS:
        raise ValueError(f"view must be one of {VIEWS}, got {view!r}")
    return tuple(row for row in ALL if view in row.views)


def other_view_reason(view: str) -> str:
    """Why a metric of the other view has no value."""
    return "needs the down-the-line view" if view == FACE_ON else "needs the face-on view"
