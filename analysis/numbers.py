"""Numbers as people read them."""

from __future__ import annotations

_UNITS = {"deg": "°", "1": "", "ratio": "", "pct": "%", "percent": "%"}


def unit_words(unit: str) -> str:
    """A unit of the registry of metrics as it is shown."""
    return _UNITS.get(unit, unit)


def number_words(value: float, se: float | None, unit: str, digits: int | None = None) -> str:
    """A value with the half of its 95 % interval: ``34 ± 4°``.

    Parameters
    ----------
    value : float
    se : float or None
        Standard error in the same unit; None or 0 leaves the interval out.
    unit : str
        As in the registry of metrics.
    digits : int, optional
        Behind the point; without it as many as the noise allows.
    """
    half = 1.96 * se if se else None
    shown = digits_for(half or value) if digits is None else digits
    width = "" if half is None else f" ± {half:.{shown}f}"
    sign = unit_words(unit)
    space = "" if sign in ("", "°") else " "
    number = f"{value:.{shown}f}".replace("-", "−")
    return f"{number}{width}{space}{sign}"


def digits_for(size: float) -> int:
    """Digits behind the point with which a number of this size, or this uncertain, is worth reading: 0 to 2."""
    if abs(size) >= 2:
        return 0
    return 1 if abs(size) >= 0.2 else 2
