"""The main numbers of a bench run for a machine to read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from analysis.bench.refusals import Refusal
from analysis.bench.reliability import bins, brier
from analysis.bench.score import ClipScore
from analysis.types import EVENTS, LIKELY, VIEWS


def summary(scores: Sequence[ClipScore], refusals: Sequence[Refusal] = ()) -> dict[str, Any]:
    """Counts, shares and errors by view; JSON values only."""
    full, clean = [s for s in scores if s.full], [s for s in scores if s.clean]
    judged = [(p, there) for s in scores for _, p, there in s.judged]
    return {
        "clips": len(scores),
        "refused": sum(s.refused for s in scores),
        "view_right": sum(s.view_right for s in scores if not s.refused),
        "hand_right": sum(s.hand_right for s in scores if not s.refused),
        "views": {view: _view([s for s in scores if s.view == view]) for view in VIEWS},
        "signs": {
            "full": len(full),
            "full_likely": sum(s.own_level == LIKELY for s in full),
            "clean": len(clean),
            "clean_with_likely": sum(bool(s.false_likely) for s in clean),
            "brier": round(brier(judged), 4) if judged else None,
            "reliability": [[b.low, b.high, b.count, round(b.mean_p, 3), b.there] for b in bins(judged)],
        },
        "refusals": {"asked": len(refusals), "right": sum(r.right for r in refusals)},
    }


def _view(scores: Sequence[ClipScore]) -> dict[str, Any]:
    if not scores:
        return {"clips": 0}
    wanted = sum(s.shaft_wanted for s in scores)
    errors = np.concatenate([s.shaft_error for s in scores])
    metric = [(abs(error), se) for s in scores for error, se, _ in s.metric.values()]
    return {
        "clips": len(scores),
        "events": {event: _event(event, scores) for event in EVENTS},
        "event_inside_95": _share(z <= 1.96 for s in scores for z in s.event_z.values()),
        "shaft": {
            "frames": wanted,
            "answered": _round(errors.size / wanted) if wanted else None,
            "within_5": _share(errors <= 5),
            "within_10": _share(errors <= 10),
        },
        "metric_inside_95": _share(error <= 1.96 * se for error, se in metric),
    }


def _event(event: str, scores: Sequence[ClipScore]) -> dict[str, Any]:
    asked = [s.event_frames[event] for s in scores if event in s.event_frames]
    found = np.abs([e for e in asked if e is not None])
    if not found.size:
        return {"asked": len(asked), "found": 0}
    return {
        "asked": len(asked),
        "found": int(found.size),
        "median": _round(float(np.median(found))),
        "p90": _round(float(np.quantile(found, 0.9))),
        "worst": _round(float(found.max())),
    }


def _share(hits: Iterable[Any]) -> float | None:
    values = [bool(hit) for hit in hits]
    return _round(sum(values) / len(values)) if values else None


def _round(value: float) -> float:
    return round(value, 4)
