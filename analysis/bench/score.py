"""What one clip's readout got right, against its truth file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from analysis.bench.labels import FULL_AMOUNT, own_sign, truth_of_sign
from analysis.geometry import wrap_deg
from analysis.types import CANT_TELL, LIKELY, Floats


@dataclass(slots=True)
class ClipScore:
    """One clip: errors in frames, degrees and units."""

    name: str
    view: str
    view_right: bool
    hand_right: bool
    fps: float = 60.0
    event_frames: dict[str, float | None] = field(default_factory=dict)
    # Error in standard errors that the readout itself stated.
    event_z: dict[str, float] = field(default_factory=dict)
    shaft_error: Floats = field(default_factory=lambda: np.zeros(0))
    shaft_wanted: int = 0
    metric: dict[str, tuple[float, float, str]] = field(default_factory=dict)
    own_sign: str | None = None
    own_level: str | None = None
    own_p: float | None = None
    own_note: str = ""
    false_likely: tuple[str, ...] = ()
    # Of a clean clip: every sign with a chance.
    clean_p: dict[str, float] = field(default_factory=dict)
    # (sign, chance, there) of what counts for reliability.
    judged: tuple[tuple[str, float, bool], ...] = ()
    clean: bool = False
    full: bool = False
    amount: float = 1.0
    problems: tuple[str, ...] = ()
    # Whether the engine refused the clip: nobody gets its numbers, so none of them counts as an answer.
    refused: bool = False
    seconds: float = 0.0


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
    meta, refused = truth["meta"], not readout["usable"]
    score = ClipScore(
        name,
        meta["view"],
        refused or readout["view"] == meta["view"],
        refused or readout["handedness"] == meta["handedness"],
        meta["fps"],
        problems=tuple(p["code"] for p in readout["problems"]),
        refused=refused,
    )
    if refused:
        readout = {**readout, "events": {}, "shaft": [], "metrics": {}, "signs": {}}
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
    signs = readout["signs"]
    score.own_sign = own_sign(meta)
    score.clean = score.own_sign is None
    score.amount = float(meta["amount"])
    score.full = not score.clean and meta["amount"] >= FULL_AMOUNT
    if score.refused:
        score.own_level, score.own_note = CANT_TELL, "refused"
    elif score.own_sign in signs:
        own = signs[score.own_sign]
        score.own_level, score.own_p, score.own_note = own["level"], own["p"], own["note"]
    told = {key: sign["p"] for key, sign in signs.items() if sign["p"] is not None}
    score.false_likely = tuple(key for key in told if signs[key]["level"] == LIKELY and key != score.own_sign)
    score.clean_p = told if score.clean else {}
    labels = {key: truth_of_sign(meta, key) for key in told}
    score.judged = tuple((key, told[key], there) for key, there in labels.items() if there is not None)
