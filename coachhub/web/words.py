"""How the machine's keys are said to people."""

from __future__ import annotations

from coachhub.swings.enums import SwingEvent

_EVENTS = {str(value): str(label) for value, label in SwingEvent.choices} | {
    "delivery_shaft_parallel": "shaft parallel, down",
    "delivery": "shaft parallel, down",
}


def event_label(name: str) -> str:
    return _EVENTS.get(name, plain(name))


def plain(key: str) -> str:
    return key.replace("_", " ")


def metric_label(name: str) -> str:
    return plain(name)


def metric_group(name: str) -> str:
    return "Measured"


_UNITS = {"deg": "°", "ratio": "", "1": "", "pct": "%", "percent": "%"}


def measure(value: float, se: float | None, unit: str, digits: int | None = None) -> str:
    """A number with its 95 % half-width, in as many digits as the noise allows: "34 ± 4 °"."""
    half = 1.96 * se if se else None
    shown = digits if digits is not None else _digits(value, half)
    number = f"{value:.{shown}f}".replace("-", "−")
    sign = _UNITS.get(unit, unit)
    width = f" ± {half:.{shown}f}" if half is not None else ""
    return f"{number}{width} {sign}".strip()


def _digits(value: float, half: float | None) -> int:
    size = half if half else abs(value)
    if size >= 2:
        return 0
    return 1 if size >= 0.2 else 2


def chance(p: float | None) -> str:
    """A probability as a count, which people read better than per cent."""
    if p is None:
        return ""
    if p < 0.05:
        return "under 1 in 20"
    return "over 19 in 20" if p > 0.95 else f"about {max(1, min(9, round(p * 10)))} in 10"
