"""What one clip's readout got right, against its truth file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from analysis.geometry import wrap_deg
from analysis.types import Floats

# The rendered faults by their names in truth files, and the sign each stands for.
SIGN_OF_FAULT = {
    "early_release": "early_release",
    "stalled_finish": "stalled_finish",
    "steep": "steep_plane",
    "over_the_top": "over_the_top",
    "reverse_spine": "reverse_spine_tilt",
    "overlong": "overlong_backswing",
    "poor_hinge": "poor_hinge",
    "sway": "sway",
    "slide": "slide",
    "hanging_back": "hanging_back",
    "early_extension": "early_extension",
    "arm_collapse": "lead_arm_collapse",
}
FULL_AMOUNT = 0.8


@dataclass(slots=True)
class ClipScore:
    """One clip: errors in frames, degrees and units."""

    name: str
    view: str
    view_right: bool
    hand_right: bool
    event_frames: dict[str, float | None] = field(default_factory=dict)
    event_z: dict[str, float] = field(default_factory=dict)
    shaft_error: Floats = field(default_factory=lambda: np.zeros(0))
    shaft_wanted: int = 0
    metric: dict[str, tuple[float, float, str]] = field(default_factory=dict)
    own_sign: str | None = None
    own_level: str | None = None
    false_likely: tuple[str, ...] = ()
    clean: bool = False
    full: bool = False
    problems: tuple[str, ...] = ()


def score_clip(
    name: str, truth: Mapping[str, Any], readout: Mapping[str, Any], ideal: Mapping[str, Any]
) -> ClipScore:
    """Compare a readout with the truth file and with the readout of the truth's own tracks.

    Parameters
    ----------
    name : str
    truth : mapping
        The parsed truth file.
    readout, ideal : mapping
        From the pictures and from the truth's tracks.
    """
    meta = truth["meta"]
    score = ClipScore(
        name,
        meta["view"],
        readout["view"] == meta["view"],
        readout["handedness"] == meta["handedness"],
        problems=tuple(p["code"] for p in readout["problems"]),
    )
    _score_events(score, truth, readout)
    _score_shaft(score, truth, readout)
    _score_metrics(score, readout, ideal)
    _score_signs(score, meta, readout)
    return score


def _score_events(score: ClipScore, truth: Mapping[str, Any], readout: Mapping[str, Any]) -> None:
    meta, first = truth["meta"], truth["frames"][0]["t"]
    for event, when in meta["events"].items():
        if when is None:
            continue
        found = readout["events"].get(event)
        if found is None:
            score.event_frames[event] = None
            continue
        error = found["t"] - (when - first)
        score.event_frames[event] = error * meta["fps"]
        score.event_z[event] = abs(error) / max(found["se"], 1e-6)


def _score_shaft(score: ClipScore, truth: Mapping[str, Any], readout: Mapping[str, Any]) -> None:
    meta, frames = truth["meta"], truth["frames"]
    first = frames[0]["t"]
    answers = {round(row["t"], 3): row["deg"] for row in readout["shaft"]}
    errors = []
    every = max(1, round(meta["fps"] / 75))
    for i, frame in enumerate(frames):
        inside = meta["events"]["address"] <= frame["t"] <= meta["events"]["impact"] + 0.1
        if not inside or frame["shaft_visible"] < 0.5 or i % every:
            continue
        score.shaft_wanted += 1
        near = _nearest(answers, frame["t"] - first, 0.6 * every / meta["fps"])
        if near is None:
            continue
        (x0, y0), (x1, y1) = frame["club2d"]
        true_deg = np.degrees(np.arctan2(y1 - y0, x1 - x0))
        errors.append(abs(float(wrap_deg(np.asarray(near - true_deg)))))
    score.shaft_error = np.array(errors)


def _nearest(answers: Mapping[float, float], t_s: float, reach_s: float) -> float | None:
    best = min(answers, key=lambda t: abs(t - t_s), default=None)
    return None if best is None or abs(best - t_s) > reach_s else answers[best]


def _score_metrics(score: ClipScore, readout: Mapping[str, Any], ideal: Mapping[str, Any]) -> None:
    for name, measured in readout["metrics"].items():
        true = ideal["metrics"].get(name, {})
        if "value" in measured and "value" in true:
            score.metric[name] = (measured["value"] - true["value"], measured["se"], measured["unit"])


def _score_signs(score: ClipScore, meta: Mapping[str, Any], readout: Mapping[str, Any]) -> None:
    score.own_sign = SIGN_OF_FAULT.get(meta["fault"])
    score.clean = meta["fault"] == "none"
    score.full = not score.clean and meta["amount"] >= FULL_AMOUNT
    levels = {key: sign["level"] for key, sign in readout["signs"].items()}
    score.own_level = levels.get(score.own_sign) if score.own_sign else None
    score.false_likely = tuple(k for k, level in levels.items() if level == "likely" and k != score.own_sign)
