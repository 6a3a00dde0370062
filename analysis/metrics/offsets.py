"""Where the pose model puts a joint against where the landmark lies on the body, and how much that scatters.

The model's joints are not the surface landmarks their names stand for: a turned hip or a hidden shoulder is put
several percent of the height beside it, and much the same way in every golfer. ``landmark_offsets.csv`` holds the
mean offset and its scatter by view, joint and instant, from rendered clips with known landmarks
(``analysis.bench.landmarks`` makes the table). On real golfers the offsets are not validated.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np

from analysis.tracks import SwingTracks
from analysis.types import EventTime, Floats

TABLE = Path(__file__).with_name("landmark_offsets.csv")
AFTER_IMPACT, AFTER_IMPACT_S = "after_impact", 0.05
ANCHORS = (
    "address",
    "shaft_parallel_back",
    "lead_arm_parallel_back",
    "top",
    "lead_arm_parallel_down",
    "delivery_shaft_parallel",
    "impact",
    AFTER_IMPACT,
    "finish",
)
# Nobody's pose is better than this share of the height, whatever a small sample says.
LEAST_SCATTER = 0.002
NOBODY_KNOWS = (0.0, 0.0, 0.012, 0.012)


@cache
def offset_table() -> Mapping[tuple[str, str, str], tuple[float, float, float, float]]:
    """(view, sided joint, instant) to offset x, y and scatter x, y, shares of the standing height.

    x counts in the view's positive sense, y downward. Sided joints start with ``lead_`` or ``trail_``.
    """
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return {
        (r["view"], r["joint"], r["instant"]): (
            float(r["x"]),
            float(r["y"]),
            max(LEAST_SCATTER, float(r["sd_x"])),
            max(LEAST_SCATTER, float(r["sd_y"])),
        )
        for r in rows
    }


def anchor_times(events: Mapping[str, EventTime], stretch: float = 1.0) -> dict[str, float]:
    """Times of the table's instants in one swing, seconds, in order; those without an event are left out."""
    out = {name: events[name].t_s for name in ANCHORS if name in events}
    if "impact" in events:
        out[AFTER_IMPACT] = events["impact"].t_s + AFTER_IMPACT_S * stretch
    return dict(sorted(out.items(), key=lambda item: item[1]))


def offsets_at(
    swing: SwingTracks, joint: str, anchors: Mapping[str, float], times: Floats, stature_px: float
) -> tuple[Floats, Floats]:
    """Offset (S, 2) and scatter (S, 2) of a joint at times (S,), pixels, by straight lines between instants.

    Parameters
    ----------
    swing : SwingTracks
    joint : str
        One of ``types.JOINTS``.
    anchors : mapping
        What ``anchor_times`` gives.
    times : ndarray of shape (S,)
        Seconds.
    stature_px : float
        The swing's: told once, since it is asked for at every joint and instant.
    """
    side = {swing.lead: "lead", swing.trail: "trail"}.get(joint.split("_")[0])
    key = joint if side is None else f"{side}_{joint.split('_', 1)[1]}"
    known = [(t, offset_table().get((swing.view, key, name))) for name, t in anchors.items()]
    kept = [(t, row) for t, row in known if row is not None] or [(0.0, NOBODY_KNOWS)]
    when = np.array([t for t, _ in kept])
    rows = np.array([row for _, row in kept])
    place = np.stack([np.interp(times, when, rows[:, k]) for k in range(4)], axis=1) * stature_px
    return place[:, :2] * np.array([swing.plus_x, 1.0]), place[:, 2:]
