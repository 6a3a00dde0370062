"""Metrics that either view gives: timing and set-up."""

from __future__ import annotations

import numpy as np

from analysis.metrics.sampler import Sampler
from analysis.metrics.spec import BOTH, MetricSpec
from analysis.types import Floats


def _span_s(sampler: Sampler, start: str, end: str) -> Floats:
    return (sampler.times(end) - sampler.times(start)) / sampler.swing.stretch


def _tempo(sampler: Sampler) -> Floats:
    down = np.maximum(_span_s(sampler, "top", "impact"), 0.02)
    return np.asarray(_span_s(sampler, "takeaway", "top") / down)


def _head_rise(sampler: Sampler) -> Floats:
    rise = sampler.middle("ear", "address")[:, 1] - sampler.middle("ear", "impact")[:, 1]
    return 100 * rise / sampler.stature_px


METRICS: tuple[MetricSpec, ...] = (
    MetricSpec(
        "backswing_time",
        "Backswing time",
        "s",
        BOTH,
        ("takeaway", "top"),
        "Takeaway to top, in real time.",
        "always positive",
        lambda s: _span_s(s, "takeaway", "top"),
        0.005,
        (0.70, 1.00),
        "Grober & Cholewicki 2006, professionals in 30 fps broadcasts",
        "S2",
        kind="time",
    ),
    MetricSpec(
        "downswing_time",
        "Downswing time",
        "s",
        BOTH,
        ("top", "impact"),
        "Top to impact, in real time.",
        "always positive",
        lambda s: _span_s(s, "top", "impact"),
        0.003,
        (0.23, 0.33),
        "Grober & Cholewicki 2006, professionals in 30 fps broadcasts",
        "S2",
        kind="time",
    ),
    MetricSpec(
        "tempo_ratio",
        "Tempo",
        "1",
        BOTH,
        ("takeaway", "top", "impact"),
        "Backswing time divided by downswing time.",
        "always positive",
        _tempo,
        0.03,
        (2.3, 3.7),
        "order of 3: Grober & Cholewicki 2006; the spread is common practice, no study",
        "S/C",
        kind="time",
    ),
    MetricSpec(
        "head_rise_impact",
        "Head height at impact against address",
        "% of height",
        BOTH,
        ("address", "impact"),
        "Rise of the point between the ears.",
        "+ = higher than at address",
        _head_rise,
        0.4,
        (-3.0, 3.0),
        "common practice, no study",
        "C",
    ),
)
