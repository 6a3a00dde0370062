"""Measure every clip of a folder that has a truth file and print the table."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TextIO

from analysis.adapters.truth import read_truth, truth_swing
from analysis.bench.score import ClipScore, score_clip
from analysis.bench.table import table
from analysis.pipeline import analyse_clip
from analysis.readout import read_swing
from analysis.version import ANALYSIS_VERSION, model_digest


def truth_of(clip: Path) -> Path | None:
    """The truth file beside a clip, packed or not; None if there is none."""
    for suffix in (".json.gz", ".json"):
        beside = clip.with_suffix("").with_name(clip.stem + suffix)
        if beside.is_file():
            return beside
    return None


def run_bench(folder: Path, out: TextIO) -> int:
    """Score all clips of ``folder`` (not below it) and write the table to ``out``.

    Raises
    ------
    ValueError
        If the folder holds no clip with a truth file.
    """
    pairs = [(clip, truth) for clip in sorted(folder.glob("*.mp4")) if (truth := truth_of(clip)) is not None]
    if not pairs:
        raise ValueError(f"no clip with a truth file (NAME.mp4 beside NAME.json.gz) in {folder}")
    scores = []
    for clip, truth in pairs:
        started = time.perf_counter()
        scores.append(_score(clip, truth))
        print(_line(scores[-1], time.perf_counter() - started), file=out, flush=True)
    print(f"\nversion {ANALYSIS_VERSION}, models {model_digest()}\n", file=out)
    print(table(scores), file=out)
    return 0


def _score(clip: Path, truth: Path) -> ClipScore:
    data = read_truth(truth)
    tracks, events = truth_swing(data)
    ideal = read_swing(
        tracks, events, number=1, start_s=0.0, end_s=float(tracks.pose.t_s[-1]), fps=tracks.fps
    ).to_json()
    return score_clip(clip.stem, data, analyse_clip(clip).swing_json(), ideal)


def _line(score: ClipScore, seconds: float) -> str:
    own = f"{score.own_sign}: {score.own_level}" if score.own_sign else "clean"
    rest = f"; also likely: {', '.join(score.false_likely)}" if score.false_likely else ""
    flags = f"; problems: {', '.join(score.problems)}" if score.problems else ""
    return f"{score.name:22s} {score.view:8s} {seconds:5.1f} s  {own}{rest}{flags}"
