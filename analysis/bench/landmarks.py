"""Fit where the pose model puts joints against the landmarks of rendered clips: the table the metrics use."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from pathlib import Path

import numpy as np

from analysis.metrics import noise
from analysis.metrics.offsets import ANCHORS, anchor_times
from analysis.metrics.sampler import smoothed_joint
from analysis.tracks import SwingTracks
from analysis.types import JOINTS, EventTime, Floats

Pair = tuple[SwingTracks, SwingTracks, Mapping[str, EventTime]]
LEAST_CLIPS = 5
CLIP_AT = 3.0
# Further off than this share of the height another body part was taken for the joint.
LOST = 0.25
HEADER = ("view", "joint", "instant", "x", "y", "sd_x", "sd_y", "clips")
NOTE = "# Pose model minus surface landmark on rendered clips, shares of the standing height; x in the view's sense."


def fit_offsets(pairs: Iterable[Pair]) -> list[tuple[str, str, str, float, float, float, float, int]]:
    """Median offset and scatter by view, sided joint and instant.

    Parameters
    ----------
    pairs : iterable
        Measured tracks, the truth's tracks and the truth's events of one clip each.

    Returns
    -------
    list of tuple
        Rows under ``HEADER``; instants seen in fewer than ``LEAST_CLIPS`` clips are left out.
    """
    found: dict[tuple[str, str, str], list[Floats]] = {}
    for measured, truth, events in pairs:
        anchors = anchor_times(events)
        for joint in JOINTS:
            places = _offsets(measured, truth, joint, np.array(list(anchors.values())))
            for name, off in zip(anchors, places, strict=True):
                if np.isfinite(off).all() and np.hypot(*off) < LOST:
                    found.setdefault((truth.view, _sided(measured, joint), name), []).append(off)
    rows = []
    for (view, joint, name), offs in sorted(found.items(), key=lambda i: (i[0][:2], ANCHORS.index(i[0][2]))):
        if len(offs) >= LEAST_CLIPS:
            mean, sd = _robust(np.array(offs))
            numbers = (round(float(v), 4) for v in (*mean, *sd))
            rows.append((view, joint, name, *numbers, len(offs)))
    return rows  # type: ignore[return-value]


def write_offsets(path: Path, rows: Iterable[tuple[object, ...]]) -> None:
    """Write the table as CSV."""
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(NOTE + "\n")
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(HEADER)
        writer.writerows(rows)


def _sided(swing: SwingTracks, joint: str) -> str:
    for side, word in ((swing.lead, "lead"), (swing.trail, "trail")):
        if joint.startswith(f"{side}_"):
            return f"{word}_{joint.split('_', 1)[1]}"
    return joint


def _offsets(measured: SwingTracks, truth: SwingTracks, joint: str, times: Floats) -> Floats:
    """(A, 2) in shares of the standing height."""
    seen, real = (_at(swing, smoothed_joint(swing, joint), times) for swing in (measured, truth))
    return np.asarray((seen - real) / truth.stature_px * np.array([truth.plus_x, 1.0]))


def _at(swing: SwingTracks, track: Floats, times: Floats) -> Floats:
    return np.stack([np.interp(times, swing.pose.t_s, track[:, d]) for d in (0, 1)], axis=1)


def _robust(offs: Floats) -> tuple[Floats, Floats]:
    middle = np.median(offs, axis=0)
    spread = np.maximum(1.4826 * np.median(np.abs(offs - middle), axis=0), noise.COMMON / 3)
    kept = np.clip(offs, middle - CLIP_AT * spread, middle + CLIP_AT * spread)
    return kept.mean(axis=0), kept.std(axis=0)
