"""Writes tests/js/timemap_cases.json: what analysis.timemap says, for the browser's own map to be held against.

``python -m tests.js.timemap_cases`` writes it; tests/analysis/test_timemap_cases.py says when that is due.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from analysis.timemap import time_map
from analysis.types import EVENTS, EventTime

FILE = Path(__file__).with_name("timemap_cases.json")
CASES = 40


def events_of(rng: np.random.Generator) -> dict[str, EventTime]:
    """Events with gaps, noise that may put neighbours in the wrong order, and unknown errors."""
    times = np.cumsum(rng.uniform(0.02, 0.6, len(EVENTS))) + rng.normal(0, 0.03, len(EVENTS))
    errors = np.where(rng.random(len(EVENTS)) < 0.1, np.nan, rng.choice([0.004, 0.008, 0.02], len(EVENTS)))
    return {
        name: EventTime(round(float(t), 6), float(se), "case")
        for name, t, se in zip(EVENTS, times, errors, strict=True)
        if rng.random() < 0.8
    }


def plain(events: dict[str, EventTime]) -> list[dict[str, Any]]:
    return [
        {
            "name": name,
            "t_us": round(e.t_s * 1e6),
            "se_us": None if np.isnan(e.se_s) else round(e.se_s * 1e6),
        }
        for name, e in events.items()
    ]


def case(rng: np.random.Generator) -> dict[str, Any]:
    first, second = events_of(rng), events_of(rng)
    asked = np.round(rng.uniform(-1, 7, 12), 6)
    data: dict[str, Any] = {"first": plain(first), "second": plain(second)}
    try:
        found = time_map(first, second)
    except ValueError:
        return data | {"map": None}
    return data | {
        "map": {"events": list(found.events), "left_out": list(found.left_out), "pace": found.pace},
        "asked_us": [round(t * 1e6) for t in asked],
        "to_second_us": [float(t * 1e6) for t in found.to_second(asked)],
        "to_first_us": [float(t * 1e6) for t in found.to_first(asked)],
    }


def cases() -> list[dict[str, Any]]:
    rng = np.random.default_rng(11)
    return [case(rng) for _ in range(CASES)]


if __name__ == "__main__":
    lines = ",\n".join(json.dumps(one, separators=(",", ":")) for one in cases())
    FILE.write_text(f"[\n{lines}\n]\n", encoding="utf-8")
