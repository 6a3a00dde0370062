"""Every metric of one swing with its standard error, or the reason why it has no value."""

from __future__ import annotations

import numpy as np

from analysis.metrics.registry import ALL, metrics_of, other_view_reason
from analysis.metrics.sampler import Missing, Sampler
from analysis.metrics.spec import MetricSpec
from analysis.metrics.unseen import wider
from analysis.tracks import SwingTracks
from analysis.types import EventTime, Metric

# Wider than this a number says nothing; it is withheld with the reason.
WIDEST_SE = {"deg": 20.0, "% of stance": 25.0, "% of height": 8.0, "%": 25.0, "% of address": 40.0, "s": 0.2}


def measure(swing: SwingTracks, events: dict[str, EventTime]) -> dict[str, Metric]:
    """All registry rows; those of the other view with their reason.

    Parameters
    ----------
    swing : SwingTracks
    events : dict of EventTime

    Returns
    -------
    dict
        Metric name to Metric; values carry their draws for the signs.
    """
    sampler = Sampler(swing, events)
    seen = {row.name: _measure_one(row, sampler) for row in metrics_of(swing.view)}
    reason = other_view_reason(swing.view)
    rest = {row.name: Metric(row.name, row.unit, reason=reason) for row in ALL if row.name not in seen}
    return seen | rest


def _measure_one(row: MetricSpec, sampler: Sampler) -> Metric:
    if sampler.swing.fps * sampler.swing.stretch < row.least_fps:
        return Metric(
            row.name, row.unit, reason=f"{sampler.swing.fps:.0f} frames a second are too few for this"
        )
    if row.kind == "time" and sampler.swing.stretch > 1.5 and not sampler.swing.is_timed:
        return Metric(
            row.name, row.unit, reason="the clip plays in slow motion and its true speed is unknown"
        )
    try:
        draws = np.asarray(row.compute(sampler), dtype=float)
    except Missing as missing:
        return Metric(row.name, row.unit, reason=str(missing))
    if not np.isfinite(draws[0]):
        return Metric(row.name, row.unit, reason="a point it needs is hidden")
    draws = np.where(np.isfinite(draws), draws, draws[0])
    off = row.spread * (draws - draws[0]) + sampler.extra(row.name, row.floor)
    if not sampler.swing.exact:
        off *= wider(sampler.swing.view, row.name)
    draws = draws[0] + off
    se = float(np.std(draws[1:]))
    if se > WIDEST_SE.get(row.unit, np.inf):
        return Metric(row.name, row.unit, reason="the error is too wide to be of use in this clip")
    return Metric(row.name, row.unit, float(draws[0]), se, row.at, samples=draws)
