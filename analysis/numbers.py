"""Numbers as people read them."""

from __future__ import annotations

_UNITS = {"deg": "°", "1": "", "ratio": ""}


def number_words(value: float, se: float | None, unit: str) -> str:
    """A value with the half of its 95 % interval, in as many digits as the noise allows: ``34 ± 4°``.

    Parameters
    ----------
    value : float
    se : float or None
        Standard error in the same unit; None or 0 leaves the interval out.
    unit : str
        As in the registry of metrics.
    """
    half = 1.96 * se if se else None
    digits = _digits(value, half)
    width = "" if half is None else f" ± {half:.{digits}f}"
    shown = _UNITS.get(unit, unit)
    space = "" if shown in ("", "°") else " "
    return f"{value:.{digits}f}{width}{space}{shown}".replace("-", "−")


def _digits(value: float, half: float | None) -> int:
    size = half if half else abs(value)
    if size >= 2:
        return 0
    return 1 if size >= 0.2 else 2
