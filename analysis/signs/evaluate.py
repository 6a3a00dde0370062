"""From metrics with errors to signs with levels."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analysis.signs.rules import KEYS, RULES, SignRule, Term
from analysis.types import (
    CANT_TELL,
    LIKELY,
    NOT_SEEN,
    POSSIBLE,
    EventTime,
    Evidence,
    Floats,
    Metric,
    Sign,
)

LIKELY_P, POSSIBLE_P = 0.75, 0.3


def find_signs(metrics: Mapping[str, Metric], events: Mapping[str, EventTime], view: str) -> dict[str, Sign]:
    """Every sign's level, probability and evidence.

    Parameters
    ----------
    metrics : mapping
        From ``metrics.measure``: values with their draws.
    events : mapping of EventTime
        For the times of the evidence frames.
    view : str
        ``face_on`` or ``dtl``.

    Returns
    -------
    dict
        Key to Sign. The probability is the share of draws in which the weighted support exceeds one half.
    """
    rules = {rule.key: rule for rule in RULES if rule.view == view}
    return {key: _judge(rules.get(key), key, metrics, events, view) for key in KEYS}


def _judge(
    rule: SignRule | None, key: str, metrics: Mapping[str, Metric], events: Mapping[str, EventTime], view: str
) -> Sign:
    if rule is None:
        other = "down-the-line" if view == "face_on" else "face-on"
        return Sign(key, CANT_TELL, None, (), f"needs the {other} view")
    evidence = tuple(_evidence(term, metrics[term.metric], events) for term in rule.terms)
    lacking = [
        item for item, term in zip(evidence, rule.terms, strict=True) if term.needed and item.value is None
    ]
    if lacking:
        return Sign(key, CANT_TELL, None, evidence, lacking[0].reason or "not measured")
    draws = _strength(rule, metrics)
    p = float((draws > 0.5).mean())
    return Sign(key, _level(p), p, evidence, rule.caution if p >= POSSIBLE_P else "")


def _level(p: float) -> str:
    if p >= LIKELY_P:
        return LIKELY
    return POSSIBLE if p >= POSSIBLE_P else NOT_SEEN


def support(values: Floats, grey: tuple[float, float]) -> Floats:
    """0 at ``grey[0]`` and before, 1 at ``grey[1]`` and beyond, straight between; either direction."""
    start, end = grey
    return np.clip((values - start) / (end - start), 0.0, 1.0)


def _strength(rule: SignRule, metrics: Mapping[str, Metric]) -> Floats:
    used = [(term, metrics[term.metric].samples) for term in rule.terms]
    known = [(term, draws) for term, draws in used if draws is not None]
    total = sum(term.weight for term, _ in known)
    weighted = [term.weight * support(draws, term.grey) for term, draws in known]
    return np.asarray(np.sum(weighted, axis=0) / total)


def _evidence(term: Term, metric: Metric, events: Mapping[str, EventTime]) -> Evidence:
    times = tuple(events[name].t_s for name in metric.at if name in events)
    strength = None if metric.value is None else float(support(np.array([metric.value]), term.grey)[0])
    return Evidence(
        metric=term.metric,
        value=metric.value,
        se=metric.se,
        unit=metric.unit,
        at=metric.at,
        times_s=times,
        grey=term.grey,
        support=strength,
        weight=term.weight,
        grade=term.grade,
        source=term.source,
        reason=metric.reason,
    )
