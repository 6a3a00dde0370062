"""Small line plots as SVG, two beside each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

Place = Callable[[float, float], tuple[float, float]]
WIDE, TALL, LEFT, TOP, RIGHT, LOW = 420, 280, 64, 40, 16, 48


@dataclass(frozen=True)
class Series:
    title: str
    x_name: str
    y_name: str
    x: Sequence[float]
    y: Sequence[float]
    bar: float | None = None


def cost_plot(series: Sequence[Series]) -> str:
    """All series as one picture."""
    rows = (len(series) + 1) // 2
    size = f"{2 * WIDE} {rows * TALL}"
    parts = [
        f'<g transform="translate({i % 2 * WIDE} {i // 2 * TALL})">{_panel(s)}</g>'
        for i, s in enumerate(series)
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" width="{2 * WIDE}" height="{rows * TALL}"'
        ' font-family="sans-serif" font-size="13" fill="#16201d">'
        '<title>What measuring a clip costs</title><rect width="100%" height="100%" fill="#fff"/>'
        f"{''.join(parts)}</svg>\n"
    )


def _panel(s: Series) -> str:
    x_top, y_top = _nice(max(s.x)), _nice(max(*s.y, s.bar or 0))

    def at(x: float, y: float) -> tuple[float, float]:
        return LEFT + (WIDE - LEFT - RIGHT) * x / x_top, TALL - LOW - (TALL - LOW - TOP) * y / y_top

    points = [at(x, y) for x, y in zip(s.x, s.y, strict=True)]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    marks = "".join(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="#0072b2"/>' for x, y in points)
    middle_x, middle_y = (LEFT + WIDE - RIGHT) / 2, (TOP + TALL - LOW) / 2
    turned = f'transform="translate(16 {middle_y}) rotate(-90)"'
    return (
        f'<text x="{LEFT}" y="22" font-weight="700">{escape(s.title)}</text>'
        + _grid(x_top, y_top, at)
        + (_bar(s.bar, at, x_top) if s.bar else "")
        + f'<polyline points="{path}" fill="none" stroke="#0072b2" stroke-width="2.5"/>{marks}'
        + f'<text x="{middle_x}" y="{TALL - 10}" text-anchor="middle">{escape(s.x_name)}</text>'
        + f'<text {turned} text-anchor="middle">{escape(s.y_name)}</text>'
    )


def _grid(x_top: float, y_top: float, at: Place) -> str:
    out = []
    for k in range(5):
        x, base = at(x_top * k / 4, 0)
        y = at(0, y_top * k / 4)[1]
        out.append(f'<path d="M{LEFT} {y:.1f}H{WIDE - RIGHT}" stroke="#d6dcda"/>')
        out.append(f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{y_top * k / 4:g}</text>')
        out.append(f'<text x="{x:.1f}" y="{base + 18:.1f}" text-anchor="middle">{x_top * k / 4:g}</text>')
    return "".join(out)


def _bar(value: float, at: Place, x_top: float) -> str:
    (x0, y), (x1, _) = at(0, value), at(x_top, value)
    line = f'<path d="M{x0:.1f} {y:.1f}H{x1:.1f}" stroke="#d55e00" stroke-width="2" stroke-dasharray="6 5"/>'
    return (
        line + f'<text x="{x1:.1f}" y="{y - 6:.1f}" text-anchor="end" fill="#a04700">bar {value:.0f}</text>'
    )


def _nice(value: float) -> float:
    """The next of 1, 2, 4, 6, 8 times a power of ten, so that quarters are short numbers."""
    power = 10.0 ** np.floor(np.log10(value))
    return float(next(step * power for step in (1, 2, 4, 6, 8, 10) if step * power >= value))
