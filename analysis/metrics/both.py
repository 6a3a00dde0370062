"""Metrics that either view gives: timing and set-up."""

from __future__ import annotations

import numpy as np

from analysis.body import middle
from analysis.metrics.sampler import Missing, Sampler
from analysis.metrics.spec import BOTH, MetricSpec
from analysis.signal.smooth import derivative, smooth_track
from analysis.types import Floats


def _span_s(sampler: Sampler, start: str, end: str) -> Floats:
    return (sampler.times(end) - sampler.times(start)) / sampler.swing.stretch


def _tempo(sampler: Sampler) -> Floats:
    down = np.maximum(_span_s(sampler, "top", "impact"), 0.02)
    return np.asarray(_span_s(sampler, "takeaway", "top") / down)


def _head_rise(sampler: Sampler) -> Floats:
    rise = sampler.middle("ear", "address")[:, 1] - sampler.middle("ear", "impact")[:, 1]
    return 100 * rise / sampler.stature_px


# Slower than this (heights a second) trunk and head count as held; longer than this a finish counts as held.
HELD_SPEED, HELD_LONG_ENOUGH_S, HELD_HZ = 0.12, 2.0, 3.0


def _finish_hold(sampler: Sampler) -> Floats:
    """Real seconds from the finish until trunk and head move off again."""
    swing = sampler.swing
    pose, stretch = swing.pose, swing.stretch
    start = sampler.times("finish")
    body = np.mean([middle(pose, part) for part in ("ear", "shoulder", "hip")], axis=0)
    steady = smooth_track(pose.t_s, body, HELD_HZ / stretch)
    speed = np.hypot(*derivative(pose.t_s, steady).T) * stretch / sampler.stature_px
    late = pose.t_s >= start[0]
    moving = late & (speed > HELD_SPEED)
    # The body is still coming to rest in the first tenths of a second.
    moving &= pose.t_s > start[0] + 0.2 * stretch
    end = float(pose.t_s[moving][0]) if moving.any() else float(pose.t_s[-1])
    held = (end - start) / stretch
    if not moving.any() and held[0] < HELD_LONG_ENOUGH_S:
        raise Missing("the clip ends while the finish is held")
    return np.asarray(held)


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
        0.012,
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
        0.0076,
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
        0.17,
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
        0.18,
        (-3.0, 3.0),
        "common practice, no study",
        "C",
    ),
    MetricSpec(
        "finish_hold",
        "Finish held",
        "s",
        BOTH,
        ("finish",),
        "Time from the finish until head and trunk move off, in real time; a clip's end counts from 2 s on.",
        "always positive",
        _finish_hold,
        0.1,
        (2.0, None),
        "common practice, no study",
        "C",
        kind="time",
    ),
)
