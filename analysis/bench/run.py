"""Measure every clip of a folder that has a truth file and print the table."""

from __future__ import annotations

import json
import multiprocessing
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from pathlib import Path
from typing import Any, TextIO

from analysis.adapters.media import MediaError
from analysis.adapters.truth import read_truth, truth_swing
from analysis.bench.refusals import Refusal, expectation_of, judge_refusal, read_expectation
from analysis.bench.score import ClipScore, score_clip
from analysis.bench.summary import summary
from analysis.bench.table import table
from analysis.options import MOST_JOBS
from analysis.pipeline import analyse_clip
from analysis.readout import empty_readout, read_swing
from analysis.types import Problem
from analysis.version import ANALYSIS_VERSION, model_digest

RENDERED_ONLY = "All clips are rendered; nothing here says how the engine does on real footage."


def truth_of(clip: Path) -> Path | None:
    """The truth file beside a clip, packed or not; None if there is none."""
    for suffix in (".json.gz", ".json"):
        beside = clip.with_suffix("").with_name(clip.stem + suffix)
        if beside.is_file():
            return beside
    return None


def run_bench(folder: Path, out: TextIO, *, report: Path | None = None, jobs: int = 1) -> int:
    """Score all clips of ``folder`` (not below it) and write the table to ``out``.

    A clip counts with ``NAME.json`` or ``NAME.json.gz`` beside it, its truth, or with ``NAME.expect.json``,
    which says what a clip without one measurable swing must come to (``bench.refusals``).

    Parameters
    ----------
    folder : Path
    out : text file
        Gets a line per clip while it runs, then the table.
    report : Path, optional
        Also write the whole text there, and the main numbers beside it under the suffix ``.json``.
    jobs : int
        Processes, 1..64. More than there are cores makes the stated seconds meaningless.

    Raises
    ------
    ValueError
        If the folder holds no such clip or ``jobs`` is out of range.
    """
    if not 1 <= jobs <= MOST_JOBS:
        raise ValueError(f"jobs must be in 1..{MOST_JOBS}, got {jobs}")
    clips = [c for c in sorted(folder.glob("*.mp4")) if truth_of(c) or expectation_of(c)]
    if not clips:
        raise ValueError(f"no clip with a truth file (NAME.mp4 beside NAME.json.gz) in {folder}")
    lines = [
        f"engine version {ANALYSIS_VERSION}, models {model_digest()}, {len(clips)} clips",
        RENDERED_ONLY,
        "",
    ]
    print("\n".join(lines), file=out, flush=True)
    done = []
    for one in score_all(clips, jobs):
        done.append(one)
        lines.append(_line(one))
        print(lines[-1], file=out, flush=True)
    scores = [one for one in done if isinstance(one, ClipScore)]
    refusals = [one for one in done if isinstance(one, Refusal)]
    text = table(scores, refusals)
    print(f"\n{text}", file=out)
    if report is not None:
        report.write_text("\n".join([*lines, "", text, ""]), encoding="utf-8")
        numbers = {"version": ANALYSIS_VERSION, "models": model_digest(), **summary(scores, refusals)}
        report.with_suffix(".json").write_text(json.dumps(numbers, indent=1) + "\n", encoding="utf-8")
    return 0


def score_all(clips: Sequence[Path], jobs: int) -> Iterator[ClipScore | Refusal]:
    """Scores in the order of the clips; ``jobs`` processes share them."""
    if jobs == 1:
        yield from map(score_one, clips)
        return
    fresh = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(jobs, mp_context=fresh) as pool:
        yield from pool.map(_score_quietly, clips, repeat(True))


def _score_quietly(clip: Path, quiet: bool) -> ClipScore | Refusal:
    from analysis.cli import quiet_libraries

    with quiet_libraries():
        return score_one(clip)


def score_one(clip: Path) -> ClipScore | Refusal:
    """Measure one clip and compare it with what lies beside it."""
    started = time.perf_counter()
    truth = truth_of(clip)
    readout, swings = _measured(clip)
    if truth is None:
        beside = expectation_of(clip)
        assert beside is not None
        codes = tuple(p["code"] for p in readout["problems"])
        return judge_refusal(clip.stem, read_expectation(beside), swings, codes)
    data = read_truth(truth)
    score = score_clip(clip.stem, data, readout, ideal_readout(data))
    score.seconds = time.perf_counter() - started
    return score


def _measured(clip: Path) -> tuple[dict[str, Any], int]:
    try:
        found = analyse_clip(clip)
    except MediaError as error:
        return empty_readout(0.0, (Problem(error.code, error.sentence, True),)), 0
    return found.swing_json(), sum(swing.usable for swing in found.swings)


def ideal_readout(data: dict[str, Any]) -> dict[str, Any]:
    """The readout of a truth file's own tracks."""
    tracks, events = truth_swing(data)
    return read_swing(
        tracks, events, number=1, start_s=0.0, end_s=float(tracks.pose.t_s[-1]), fps=tracks.fps
    ).to_json()


def _line(one: ClipScore | Refusal) -> str:
    if isinstance(one, Refusal):
        return f"{one.name:24s} wanted {one.wanted}; found {one.found}; {'right' if one.right else 'WRONG'}"
    chance = "" if one.own_p is None else f" {one.own_p:.2f}"
    own = f"{one.own_sign}: {one.own_level}{chance}" if one.own_sign else "clean"
    rest = f"; also likely: {', '.join(one.false_likely)}" if one.false_likely else ""
    flags = f"; problems: {', '.join(one.problems)}" if one.problems else ""
    return f"{one.name:24s} {one.view:8s} {one.seconds:5.1f} s  {own}{rest}{flags}"
