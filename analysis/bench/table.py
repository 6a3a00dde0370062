"""The bench's table: counts, medians, tails, and the bar beside each."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.bench.refusals import Refusal
from analysis.bench.score import ClipScore
from analysis.bench.sign_table import mark, reliability_table, sign_table
from analysis.metrics.registry import ALL
from analysis.types import EVENTS, VIEWS

_KINDS = {row.name: row.kind for row in ALL}
# (share, frames): at least this share of the clips within so many frames.
EVENT_BARS = {
    "top": (0.95, 1.0),
    "impact": (0.95, 1.0),
    "takeaway": (0.90, 1.5),
    "lead_arm_parallel_back": (0.90, 1.5),
    "lead_arm_parallel_down": (0.90, 1.5),
    "shaft_parallel_back": (0.90, 1.5),
    "delivery_shaft_parallel": (0.90, 1.5),
    "shaft_parallel_through": (0.90, 1.5),
    "address": (0.90, 4.0),
    "finish": (0.90, 4.0),
}
HALF_WIDTH_BARS = {"body": 6.0, "shaft": 10.0}
FACE_ON_BARS_ONLY = {
    "lead_arm_parallel_back",
    "lead_arm_parallel_down",
    "shaft_parallel_back",
    "delivery_shaft_parallel",
    "shaft_parallel_through",
}


def table(scores: Sequence[ClipScore], refusals: Sequence[Refusal] = ()) -> str:
    """All parts of the report as text."""
    parts = [_refusals(refusals)]
    if scores:
        parts[:0] = [
            _identity(scores),
            _events(scores),
            _event_errors(scores),
            _shaft(scores),
            _metrics(scores),
            sign_table(scores),
            reliability_table(scores),
        ]
    return "\n\n".join(part for part in parts if part)


def _identity(scores: Sequence[ClipScore]) -> str:
    told = [s for s in scores if not s.refused]
    n = len(told)
    view, hand = sum(s.view_right for s in told), sum(s.hand_right for s in told)
    refused = {s.name: s.problems for s in scores if s.refused}
    return (
        f"clips {len(scores)}, refused though each has a swing: {len(refused)} {refused or ''}".rstrip()
        + f"\nview right {view}/{n}, handedness right {hand}/{n}  (bar: all) {mark(view == hand == n)}"
    )


def _events(scores: Sequence[ClipScore]) -> str:
    rows = ["events, errors in frames of the clip"]
    rows.append(
        f"{'view':8s} {'event':24s} {'n':>7s} {'median':>7s} {'|med|':>6s} {'p90':>6s} {'worst':>6s}  bar"
    )
    for view in VIEWS:
        mine = [s for s in scores if s.view == view]
        for event in EVENTS:
            rows.append(_event_row(mine, view, event))
    return "\n".join(row for row in rows if row)


def _event_row(scores: Sequence[ClipScore], view: str, event: str) -> str:
    asked = [s.event_frames[event] for s in scores if event in s.event_frames]
    errors = np.array([e for e in asked if e is not None])
    if not asked:
        return ""
    if errors.size == 0:
        return f"{view:8s} {event:24s} {0:3d}/{len(asked):<3d} missing in every clip"
    share, frames = EVENT_BARS[event]
    within = float((np.abs(errors) <= frames).sum()) / len(asked)
    barred = view == "face_on" or event not in FACE_ON_BARS_ONLY
    bar = f"{within:4.0%} within {frames:g} (bar {share:.0%}) {mark(within >= share)}" if barred else "no bar"
    if event in ("top", "impact"):
        bar += f"; median bar 0.5 {mark(float(np.median(np.abs(errors))) <= 0.5)}"
    return (
        f"{view:8s} {event:24s} {errors.size:3d}/{len(asked):<3d} {np.median(errors):7.2f} "
        f"{np.median(np.abs(errors)):6.2f} {np.quantile(np.abs(errors), 0.9):6.2f} {np.abs(errors).max():6.2f}  {bar}"
    )


def _event_errors(scores: Sequence[ClipScore]) -> str:
    """Whether the events' own standard errors are honest."""
    rows = ["event times inside their own 95 % interval (wanted: about .95)"]
    for view in VIEWS:
        z = {
            event: [s.event_z[event] for s in scores if s.view == view and event in s.event_z]
            for event in EVENTS
        }
        every = [value for values in z.values() for value in values]
        if not every:
            continue
        cells = [f"{event} {np.mean(np.array(v) <= 1.96):.2f}" for event, v in z.items() if v]
        share, worst = float(np.mean(np.array(every) <= 1.96)), max(every)
        rows.append(
            f"{view:8s} all {share:.3f} of {len(every)}, worst {worst:.1f} standard errors; {', '.join(cells)}"
        )
    return "\n".join(rows)


def _shaft(scores: Sequence[ClipScore]) -> str:
    rows = ["shaft direction, address to 0.1 s after impact, shaft at least half visible"]
    for view in VIEWS:
        mine = [s for s in scores if s.view == view]
        wanted = sum(s.shaft_wanted for s in mine)
        if not wanted:
            continue
        errors = np.concatenate([s.shaft_error for s in mine])
        answered = errors.size / wanted
        w5, w10 = float((errors <= 5).mean()), float((errors <= 10).mean())
        rows.append(
            f"{view:8s} frames {wanted:5d} answered {answered:.3f} (bar .95) {mark(answered >= 0.95)}; "
            f"within 5 deg {w5:.3f} (bar .95) {mark(w5 >= 0.95)}; "
            f"within 10 deg {w10:.3f} (bar .99) {mark(w10 >= 0.99)}; "
            f"median {np.median(errors):.2f} worst {errors.max():.1f}"
        )
    return "\n".join(rows)


def _metrics(scores: Sequence[ClipScore]) -> str:
    rows = ["metrics: readout minus readout of the truth's own tracks"]
    rows.append(
        f"{'view':8s} {'metric':34s} {'n':>7s} {'median':>7s} {'|p90|':>7s} {'worst':>7s} "
        f"{'half95':>7s} {'inside':>7s}  unit"
    )
    inside_all: list[bool] = []
    halves: dict[str, list[float]] = {"body": [], "shaft": []}
    for view in VIEWS:
        mine = [s for s in scores if s.view == view]
        for name in dict.fromkeys(n for s in mine for n in s.metric):
            found = [s.metric[name] for s in mine if name in s.metric]
            errors, ses = np.array([f[0] for f in found]), np.array([f[1] for f in found])
            inside = np.abs(errors) <= 1.96 * ses
            inside_all += list(inside)
            if found[0][2] == "deg" and _KINDS[name] in halves:
                halves[_KINDS[name]] += list(1.96 * ses)
            rows.append(
                f"{view:8s} {name:34s} {len(found):3d}/{len(mine):<3d} {np.median(errors):7.2f} "
                f"{np.quantile(np.abs(errors), 0.9):7.2f} {np.abs(errors).max():7.2f} {1.96 * np.median(ses):7.2f} "
                f"{inside.mean():7.2f}  {found[0][2]}"
            )
    share = float(np.mean(inside_all)) if inside_all else 0.0
    rows.append(f"inside the 95 % interval, all metrics: {share:.3f} (bar .90) {mark(share >= 0.9)}")
    for kind, values in halves.items():
        if values:
            median = float(np.median(values))
            rows.append(f"median half-width, {kind} angles: {median:.1f} deg {_bar(kind, median)}")
    return "\n".join(rows)


def _bar(kind: str, median: float) -> str:
    limit = HALF_WIDTH_BARS[kind]
    return f"(bar {limit:g}) {mark(median <= limit)}"


def _refusals(refusals: Sequence[Refusal]) -> str:
    if not refusals:
        return ""
    right = sum(one.right for one in refusals)
    rows = [
        f"not a swing, or more than one: right in {right}/{len(refusals)} (bar: all) {mark(right == len(refusals))}"
    ]
    rows += [f"  {one.name}: wanted {one.wanted}; found {one.found}" for one in refusals if not one.right]
    return "\n".join(rows)
