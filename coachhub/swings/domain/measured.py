"""A readout as the measuring package takes it: for comparing two swings and for laying their events over each other."""

from __future__ import annotations

from typing import Any

from analysis.compare import Change, MeasuredSwing, compare_swings
from analysis.timemap import TimeMap, time_map
from analysis.types import EventTime, Metric
from coachhub.swings.models import Readout


def measured_swing(readout: Readout, club_class: str) -> MeasuredSwing:
    data = readout.data
    metrics = {name: _metric(name, found) for name, found in data.get("metrics", {}).items()}
    return MeasuredSwing(data["view"], club_class or None, float(data["fps"]), metrics)


def _metric(name: str, found: dict[str, Any]) -> Metric:
    if found.get("value") is None:
        return Metric(name, str(found.get("unit") or "1"), reason=found.get("reason") or "not measured")
    return Metric(name, str(found.get("unit") or "1"), float(found["value"]), float(found.get("se") or 0.0))


def changes(before: Readout, after: Readout) -> list[Change]:
    """What differs between two single swings of one view; ValueError across views."""
    swings = [measured_swing(one, one.swing.clip.club_class) for one in (before, after)]
    # A number that one side could not measure has no unit there; the other side's stands for both.
    return list(compare_swings(*_same_units(*swings)).values())


def _same_units(before: MeasuredSwing, after: MeasuredSwing) -> tuple[MeasuredSwing, MeasuredSwing]:
    def fitted(own: MeasuredSwing, other: MeasuredSwing) -> MeasuredSwing:
        metrics = {
            name: Metric(name, other.metrics[name].unit, reason=metric.reason)
            if metric.value is None and name in other.metrics
            else metric
            for name, metric in own.metrics.items()
        }
        return MeasuredSwing(own.view, own.club_class, own.fps, metrics)

    return fitted(before, after), fitted(after, before)


def event_times(readout: Readout) -> dict[str, EventTime]:
    found = readout.data.get("events", {})
    return {
        name: EventTime(float(event["t"]), float(event.get("se") or 0.0), "readout")
        for name, event in found.items()
        if event.get("t") is not None
    }


def map_between(first: Readout, second: Readout) -> TimeMap | None:
    """None where fewer than two events are shared."""
    try:
        return time_map(event_times(first), event_times(second))
    except ValueError:
        return None
