"""From metrics with errors to signs with levels."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from analysis.signs.bands import SHIPPED, Bands
from analysis.signs.chance import pooled, term_chance
from analysis.signs.rules import KEYS, RULES, SignRule, Term
from analysis.types import (
    CANT_TELL,
    FACE_ON,
    LIKELY,
    NOT_SEEN,
    POSSIBLE,
    EventTime,
    Evidence,
    Metric,
    Sign,
)

LIKELY_P, POSSIBLE_P = 0.75, 0.3
OFF_NOTE = "this camp does not look for it"
# Nominal rates are a little off: 59.94, 29.97.
_RATE_SLACK = 0.97


def find_signs(
    metrics: Mapping[str, Metric],
    events: Mapping[str, EventTime],
    view: str,
    *,
    fps: float | None = None,
    bands: Bands = SHIPPED,
) -> dict[str, Sign]:
    """Every sign's level, probability, evidence and frames.

    Parameters
    ----------
    metrics : mapping
        From ``metrics.measure``; of each the value and its standard error count.
    events : mapping of EventTime
        For the times of the evidence frames.
    view : str
        ``face_on`` or ``dtl``.
    fps : float, optional
        Frames per second of real time; a sign that needs more can't be told. None: not judged.
    bands : Bands
        What a camp set in place of the shipped zones.

    Returns
    -------
    dict
        Key to Sign. ``p`` is the chance by ``signs.chance`` of the terms that were measured; it is None and
        ``limit`` says why (``view``, ``fps``, ``missing``, ``off``) where the sign can't be told.
    """
    rules = {rule.key: rule for rule in RULES if rule.view == view}
    return {key: _judge(rules.get(key), key, metrics, events, view, fps, bands) for key in KEYS}


def _judge(
    rule: SignRule | None,
    key: str,
    metrics: Mapping[str, Metric],
    events: Mapping[str, EventTime],
    view: str,
    fps: float | None,
    bands: Bands,
) -> Sign:
    who = "camp" if bands.touches(key) else "shipped"
    if rule is None:
        other = "down-the-line" if view == FACE_ON else "face-on"
        return Sign(key, CANT_TELL, None, (), f"needs the {other} view", bands=who, limit="view")
    evidence = tuple(
        _evidence(term, bands.of(key, term), metrics[term.metric], events) for term in rule.terms
    )
    sign = Sign(key, CANT_TELL, None, evidence, bands=who, frames=_frames(rule, events))
    if key in bands.off:
        return replace(sign, note=OFF_NOTE, limit="off")
    if fps is not None and fps < _RATE_SLACK * rule.least_fps:
        note = f"{fps:.0f} frames a second are too few for this: film with {rule.least_fps:.0f} or more"
        return replace(sign, note=note, limit="fps")
    lacking = [
        item for item, term in zip(evidence, rule.terms, strict=True) if term.needed and item.value is None
    ]
    if lacking:
        return replace(sign, note=lacking[0].reason or "not measured", limit="missing")
    p = pooled((item.weight, item.support) for item in evidence if item.support is not None)
    return replace(sign, level=level_of(p), p=p, note=rule.caution if p >= POSSIBLE_P else "")


def level_of(p: float) -> str:
    """The level of a chance: likely from 0.75 on, possible from 0.3 on."""
    if p >= LIKELY_P:
        return LIKELY
    return POSSIBLE if p >= POSSIBLE_P else NOT_SEEN


def _frames(rule: SignRule, events: Mapping[str, EventTime]) -> tuple[tuple[str, float], ...]:
    return tuple((name, events[name].t_s) for name in rule.frames if name in events)


def _evidence(
    term: Term, grey: tuple[float, float], metric: Metric, events: Mapping[str, EventTime]
) -> Evidence:
    times = tuple(events[name].t_s for name in metric.at if name in events)
    strength = None
    if metric.value is not None and metric.se is not None:
        strength = term_chance(metric.value, metric.se, grey)
    return Evidence(
        metric=term.metric,
        value=metric.value,
        se=metric.se,
        unit=metric.unit,
        at=metric.at,
        times_s=times,
        grey=grey,
        support=strength,
        weight=term.weight,
        grade=term.grade,
        source=term.source,
        reason=metric.reason,
    )
