"""Whether the landmark offsets hold on bodies they were not fitted on.

``python -m analysis.bench.bodies TRACKS=CLIPS ... --report FILE``: each body of the clips is left out in turn, the
offsets are fitted on the others, and the metrics of the body left out are compared with the truth's.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from analysis.adapters.store import load_tracks
from analysis.adapters.truth import read_truth, truth_swing
from analysis.bench.landmarks import fit_offsets
from analysis.bench.run import RENDERED_ONLY, truth_of
from analysis.events import detect_events
from analysis.metrics import measure, offsets
from analysis.metrics.registry import metrics_of
from analysis.tracks import SwingTracks
from analysis.types import EventTime, Metric

LEAST_CASES = 10
Row = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Case:
    """One clip: measured tracks and events, the truth's, and whose body it is."""

    body: str
    measured: SwingTracks
    found: Mapping[str, EventTime]
    truth: SwingTracks
    events: Mapping[str, EventTime]


def read_cases(tracks: Path, clips: Path) -> list[Case]:
    """Clips of a folder that have truth and stored tracks with one swing."""
    cases = []
    for clip in sorted(clips.glob("*.mp4")):
        file = truth_of(clip)
        if file is None or not (tracks / clip.stem).is_dir():
            continue
        data = read_truth(file)
        measured, _, _ = load_tracks(tracks / clip.stem, 1)
        cases.append(Case(data["meta"]["body"], measured, detect_events(measured), *truth_swing(data)))
    return cases


@contextmanager
def fitted_on(cases: Sequence[Case]) -> Iterator[None]:
    """Metrics inside use offsets fitted on these cases instead of the shipped table."""
    rows = fit_offsets((case.measured, case.truth, case.events) for case in cases)
    table: dict[tuple[str, str, str], Row] = {
        (view, joint, name): (x, y, max(offsets.LEAST_SCATTER, sx), max(offsets.LEAST_SCATTER, sy))
        for view, joint, name, x, y, sx, sy, _ in rows
    }
    shipped = offsets.offset_table
    offsets.offset_table = lambda: table  # type: ignore[assignment]
    try:
        yield
    finally:
        offsets.offset_table = shipped


def errors_of(case: Case) -> dict[str, tuple[float, float]]:
    """Metric to its error against the truth's own value, and its stated standard error."""
    seen = measure(case.measured, dict(case.found))
    true = measure(case.truth, dict(case.events))
    return {name: pair for name in seen if (pair := _pair(seen[name], true[name])) is not None}


def _pair(seen: Metric, true: Metric) -> tuple[float, float] | None:
    if seen.value is None or seen.se is None or true.value is None:
        return None
    return seen.value - true.value, seen.se


def left_out(cases: Sequence[Case]) -> list[tuple[Case, dict[str, tuple[float, float]]]]:
    """Errors of every case with offsets that never saw its body."""
    out = []
    for body in sorted({case.body for case in cases}):
        with fitted_on([case for case in cases if case.body != body]):
            out += [(case, errors_of(case)) for case in cases if case.body == body]
    return out


def bodies_table(cases: Sequence[Case]) -> str:
    """By metric: share inside the 95 % interval, shipped and left out, and by body left out."""
    shipped = [(case, errors_of(case)) for case in cases]
    other = left_out(cases)
    bodies = sorted({case.body for case in cases})
    lines = [
        f"{'view':8s} {'metric':34s} {'n':>3s} {'shipped':>7s} {'left out':>8s}  "
        + " ".join(f"{body:>8s}" for body in bodies)
        + "   error/stated, left out"
    ]
    for view in sorted({case.measured.view for case in cases}):
        for row in metrics_of(view):
            here = _ratios(other, view, row.name)
            if len(here) < LEAST_CASES:
                continue
            single = [_inside(_ratios(other, view, row.name, body)) for body in bodies]
            lines.append(
                f"{view:8s} {row.name:34s} {len(here):3d} {_inside(_ratios(shipped, view, row.name)):7.2f} "
                f"{_inside(here):8.2f}  "
                + " ".join(f"{share:8.2f}" for share in single)
                + f"   {np.sqrt(np.mean(np.square(here))):.2f}"
            )
    both = [
        np.concatenate([[e / se for e, se in found.values()] for _, found in some])
        for some in (shipped, other)
    ]
    lines.append(
        f"all rows: shipped {_inside(both[0]):.3f}, body left out {_inside(both[1]):.3f} inside (wanted .90 to .98)"
    )
    return "\n".join(lines)


def _ratios(
    some: Sequence[tuple[Case, dict[str, tuple[float, float]]]], view: str, name: str, body: str | None = None
) -> Any:
    return np.array(
        [
            found[name][0] / max(found[name][1], 1e-9)
            for case, found in some
            if case.measured.view == view and name in found and body in (None, case.body)
        ]
    )


def _inside(ratios: Any) -> float:
    return float(np.mean(np.abs(ratios) <= 1.96)) if len(ratios) else float("nan")


def main(arguments: Sequence[str]) -> int:
    """Command line of the study."""
    parser = argparse.ArgumentParser(prog="python -m analysis.bench.bodies", description=__doc__)
    parser.add_argument("pairs", nargs="+", help="TRACKS=CLIPS, two folders")
    parser.add_argument("--report", type=Path)
    options = parser.parse_args(arguments)
    cases = [case for pair in options.pairs for case in read_cases(*map(Path, pair.split("=", 1)))]
    text = "\n\n".join([f"{len(cases)} clips", RENDERED_ONLY, bodies_table(cases)])
    print(text)
    if options.report is not None:
        options.report.write_text(text + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
