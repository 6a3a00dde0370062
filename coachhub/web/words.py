"""How the machine's keys are said to people."""

from __future__ import annotations

from analysis.metrics.registry import ALL
from analysis.metrics.spec import MetricSpec
from analysis.numbers import number_words, unit_words
from analysis.signs.rules import RULES
from coachhub.swings.enums import SwingEvent

_EVENTS = {str(value): str(label) for value, label in SwingEvent.choices} | {
    "delivery_shaft_parallel": "shaft parallel, down",
    "delivery": "shaft parallel, down",
}

_SPECS = {spec.name: spec for spec in ALL}
_PARTS = {
    "address": "Set-up",
    "takeaway": "Backswing",
    "lead_arm_parallel_back": "Backswing",
    "top": "Backswing",
    "lead_arm_parallel_down": "Downswing and impact",
    "delivery_shaft_parallel": "Downswing and impact",
    "impact": "Downswing and impact",
    "finish": "Finish",
}
METRIC_GROUPS = (*dict.fromkeys(_PARTS.values()), "Other")


def event_label(name: str) -> str:
    return _EVENTS.get(name, plain(name))


def plain(key: str) -> str:
    return key.replace("_", " ")


def _spec(name: str) -> MetricSpec | None:
    return _SPECS.get(name)


def metric_label(name: str) -> str:
    spec = _spec(name)
    return spec.title if spec else plain(name)


def metric_definition(name: str) -> str:
    spec = _spec(name)
    return spec.definition if spec else ""


def metric_group(name: str) -> str:
    """The part of the swing that a number belongs to, by the last event it needs."""
    spec = _spec(name)
    return _PARTS.get(spec.at[-1], "Other") if spec and spec.at else "Other"


def _from_rate(fps: float) -> str:
    return f"From {fps:.0f} frames a second on."


_LIMITS = {(rule.key, rule.view): f"{rule.limits} {_from_rate(rule.least_fps)}" for rule in RULES}


def sign_limits(key: str, view: str | None) -> str:
    """What one view can't show of a sign, and from which frame rate on it can be told; empty: not in this view."""
    return _LIMITS.get((key, view or ""), "")


def unit_label(unit: str) -> str:
    return unit_words(unit)


def measure(value: float, se: float | None, unit: str, digits: int | None = None) -> str:
    """A number with its 95 % half-width, in as many digits as the noise allows: "34 ± 4°"."""
    return number_words(value, se, unit, digits)


def chance(p: float | None) -> str:
    """A probability as a count, which people read better than per cent."""
    if p is None:
        return ""
    if p < 0.05:
        return "under 1 in 20"
    return "over 19 in 20" if p > 0.95 else f"about {max(1, min(9, round(p * 10)))} in 10"
