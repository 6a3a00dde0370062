"""How accuracy falls as the picture gets worse: rendered clips, spoiled at three levels of each kind.

``python -m analysis.bench.stress DIR --report FILE``. A run of six clips takes ten to fifteen minutes on two
quiet cores; the report is kept beside the bench's.
"""

from __future__ import annotations

import argparse
import copy
import multiprocessing
import sys
import tempfile
import time
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from analysis.adapters import spoil
from analysis.adapters.media import MediaError
from analysis.adapters.truth import read_truth
from analysis.bench.labels import own_sign
from analysis.bench.run import RENDERED_ONLY, ideal_readout, truth_of
from analysis.bench.score import ClipScore, score_clip
from analysis.bench.table import EVENT_BARS, FACE_ON_BARS_ONLY
from analysis.types import FACE_ON, LIKELY, Floats
from analysis.version import ANALYSIS_VERSION, model_digest

LEVELS = ("mild", "hard", "severe")
UNSPOILED = ("as filmed", "-")
# Kind, and in words what its three levels are.
KINDS = {
    "compression": "H.264 rate factor 30, 38, 45",
    "darkness": "1/2, 1/4, 1/8 of the light with noise of 4, 8, 12 grey levels",
    "blur": "out of focus by 0.15, 0.3, 0.6 % of the height",
    "size": "540, 360, 240 pixels wide",
    "rate": "30, 20, 15 frames a second",
    "shake": "hand-held: 0.4, 0.8, 1.6 % of the height and 0.3, 0.6, 1.2 degrees of roll",
    "net": "lines in front every 8, 5, 3 % of the height, covering 25, 40, 60 %",
    "bystander": "somebody at the edge: small and still, as large and still, as large and swinging",
}


@dataclass(frozen=True, slots=True)
class Trial:
    """One clip, spoiled in one way."""

    clip: Path
    kind: str
    level: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a trial; ``score`` is None where the clip was refused, and ``refused`` says with what."""

    trial: Trial
    score: ClipScore | None
    refused: tuple[str, ...]


def spoiler(kind: str, level: str, other: Path) -> spoil.Spoiler:
    """The spoiler of a kind at a level; ``other`` is the clip a bystander is taken from.

    Raises
    ------
    ValueError
        If the kind or level is unknown.
    """
    if kind not in KINDS or level not in LEVELS:
        raise ValueError(f"kind must be one of {tuple(KINDS)} and level of {LEVELS}, got {kind!r}, {level!r}")
    step = LEVELS.index(level)
    if kind == "compression":
        return spoil.compressed((30, 38, 45)[step])
    if kind == "darkness":
        return spoil.darkened((0.5, 0.25, 0.125)[step], (4.0, 8.0, 12.0)[step])
    if kind == "blur":
        return spoil.blurred((0.0015, 0.003, 0.006)[step])
    if kind == "size":
        return spoil.smaller((540, 360, 240)[step])
    if kind == "rate":
        return spoil.slower((2, 3, 4)[step])
    if kind == "shake":
        return spoil.shaken((0.004, 0.008, 0.016)[step], (0.3, 0.6, 1.2)[step])
    if kind == "net":
        return spoil.behind_net((0.08, 0.05, 0.03)[step], (0.25, 0.4, 0.6)[step])
    return _bystander(step, other)


def _bystander(step: int, other: Path) -> spoil.Spoiler:
    truth = truth_of(other)
    assert truth is not None
    data = read_truth(truth)
    joints = [k for k, name in enumerate(data["meta"]["joints"]) if name.startswith("coco_")]
    outline = [np.array(frame["j2d"], float)[joints] for frame in data["frames"]]
    return spoil.beside(spoil.read_reel(other), outline, (0.6, 0.9, 0.9)[step], moving=step == 2)


def follow(truth: Mapping[str, Any], reel: spoil.Reel) -> dict[str, Any]:
    """The truth of a spoiled clip: its frames, and every point where the spoiling put it.

    The rate in ``meta`` becomes the reel's, so that errors count in frames of what was measured.
    """
    frames = []
    for k, moved in zip(reel.kept, reel.moved, strict=True):
        frame = dict(truth["frames"][int(k)])
        for name in ("j2d", "club2d"):
            frame[name] = _map(np.array(frame[name], float), moved).tolist()
        if frame["ball2d"]:
            frame["ball2d"] = _map(np.array([frame["ball2d"]], float), moved)[0].tolist()
        frames.append(frame)
    meta = copy.copy(truth["meta"])
    meta["height"], meta["width"] = (int(n) for n in reel.pictures.shape[1:3])
    meta["fps"] = truth["meta"]["fps"] * len(frames) / len(truth["frames"])
    return {"meta": meta, "frames": frames}


def _map(points: Floats, moved: Floats) -> Floats:
    return np.asarray(points @ moved[:, :2].T + moved[:, 2])


def run_trial(trial: Trial, others: Sequence[Path]) -> Outcome:
    """Spoil, measure and score one clip."""
    from analysis.cli import quiet_libraries
    from analysis.pipeline import analyse_clip

    truth_file = truth_of(trial.clip)
    assert truth_file is not None
    truth = read_truth(truth_file)
    reel = spoil.read_reel(trial.clip)
    if trial.kind in KINDS:
        other = next(path for path in others if path != trial.clip)
        reel = spoiler(trial.kind, trial.level, other)(reel)
    truth = follow(truth, reel)
    with tempfile.TemporaryDirectory(prefix="stress-") as folder, quiet_libraries():
        path = Path(folder) / "clip.mp4"
        spoil.write_reel(reel, path)
        try:
            readout = analyse_clip(path).swing_json()
        except MediaError as error:
            return Outcome(trial, None, (error.code,))
    if not readout["usable"]:
        return Outcome(trial, None, tuple(p["code"] for p in readout["problems"]))
    return Outcome(trial, score_clip(trial.clip.stem, truth, readout, ideal_readout(truth)), ())


def trials(clips: Sequence[Path], kinds: Iterable[str]) -> list[Trial]:
    """Every clip as filmed, then in every kind and level."""
    plain = [Trial(clip, *UNSPOILED) for clip in clips]
    return plain + [Trial(clip, kind, level) for kind in kinds for level in LEVELS for clip in clips]


def stress_table(outcomes: Sequence[Outcome]) -> str:
    """One line per kind and level."""
    rows = [
        f"{'kind':12s} {'level':9s} {'clips':>5s} {'meas.':>5s} {'view+hand':>9s} {'events':>7s} {'shaft':>6s} "
        f"{'5 deg':>6s} {'10 deg':>6s} {'metric':>6s} {'sign':>6s}  refused with"
    ]
    groups: dict[tuple[str, str], list[Outcome]] = {}
    for outcome in outcomes:
        groups.setdefault((outcome.trial.kind, outcome.trial.level), []).append(outcome)
    rows += [_row(*key, group) for key, group in groups.items()]
    return "\n".join(rows)


def _row(kind: str, level: str, group: Sequence[Outcome]) -> str:
    scores = [o.score for o in group if o.score is not None]
    codes = sorted({code for o in group for code in o.refused})
    right = sum(s.view_right and s.hand_right for s in scores)
    wanted = sum(s.shaft_wanted for s in scores)
    errors = np.concatenate([s.shaft_error for s in scores]) if scores else np.zeros(0)
    return (
        f"{kind:12s} {level:9s} {len(group):5d} {len(scores):5d} {right:6d}/{len(scores):<2d} "
        f"{_share([hit for s in scores for hit in _events_within(s)]):>7s} "
        f"{f'{errors.size / wanted:.2f}' if wanted else '-':>6s} "
        f"{_share(errors <= 5):>6s} {_share(errors <= 10):>6s} "
        f"{_share([abs(e) <= 1.96 * se for s in scores for e, se, _ in s.metric.values()]):>6s} "
        f"{sum(map(_sign_kept, scores)):3d}/{len(group):<2d}  {', '.join(codes)}"
    ).rstrip()


def _events_within(score: ClipScore) -> list[bool]:
    """For each event with a bar in this view: found, and within the bar's frames."""
    barred = [e for e in score.event_frames if score.view == FACE_ON or e not in FACE_ON_BARS_ONLY]
    found = [(score.event_frames[event], EVENT_BARS[event][1]) for event in barred if event in EVENT_BARS]
    return [error is not None and abs(error) <= frames for error, frames in found]


def _sign_kept(score: ClipScore) -> bool:
    """The built-in fault is likely, or a clean swing has nothing likely."""
    return not score.false_likely if score.own_sign is None else score.own_level == LIKELY


def _share(hits: Any) -> str:
    return f"{float(np.mean(hits)):.2f}" if len(hits) else "-"


NOTES = """\
meas.: measured at all; view+hand right of those; events: share found within the bench's bars, in frames of the
spoiled clip; shaft: share of frames answered, then within 5 and 10 degrees of those; metric: true value inside
the stated 95 % interval; sign: the built-in fault is still likely, or a clean swing still clean, of all clips."""


def run_stress(clips: Sequence[Path], kinds: Sequence[str], jobs: int, report: Path | None) -> None:
    """Run all trials, print the table, and write it."""
    started = time.perf_counter()
    todo = trials(clips, kinds)
    outcomes = []
    with ProcessPoolExecutor(jobs, mp_context=multiprocessing.get_context("spawn")) as pool:
        for outcome in pool.map(run_trial, todo, [tuple(clips)] * len(todo)):
            outcomes.append(outcome)
            print(
                f"{len(outcomes)}/{len(todo)} {outcome.trial.clip.stem} {outcome.trial.kind}", file=sys.stderr
            )
    names = ", ".join(f"{clip.stem} ({_fault(clip)})" for clip in clips)
    head = f"engine version {ANALYSIS_VERSION}, models {model_digest()}; clips: {names}"
    what = "\n".join(f"  {kind}: {KINDS[kind]}" for kind in kinds)
    minutes = f"{len(todo)} runs in {(time.perf_counter() - started) / 60:.1f} minutes, {jobs} at a time"
    text = "\n\n".join([head, RENDERED_ONLY, f"levels\n{what}", stress_table(outcomes), NOTES, minutes])
    print(text)
    if report is not None:
        report.write_text(text + "\n", encoding="utf-8")


def _fault(clip: Path) -> str:
    truth = truth_of(clip)
    assert truth is not None
    return own_sign(read_truth(truth)["meta"]) or "clean"


def main(arguments: Sequence[str]) -> int:
    """Command line of the study."""
    parser = argparse.ArgumentParser(prog="python -m analysis.bench.stress", description=__doc__)
    parser.add_argument("folder", type=Path, help="clips with truth files, at least two")
    parser.add_argument("--clips", help="names, separated by commas (default: all)")
    parser.add_argument("--kinds", help=f"among {','.join(KINDS)} (default: all)")
    parser.add_argument("--jobs", type=int, default=1, help="clips at the same time")
    parser.add_argument("--report", type=Path, help="write the table there too")
    options = parser.parse_args(arguments)
    kinds = options.kinds.split(",") if options.kinds else list(KINDS)
    found = [clip for clip in sorted(options.folder.glob("*.mp4")) if truth_of(clip)]
    if options.clips:
        found = [clip for clip in found if clip.stem in options.clips.split(",")]
    if len(found) < 2 or set(kinds) - set(KINDS) or options.jobs < 1:
        parser.error("name a folder with at least two clips with truth, and known kinds")
    run_stress(found, kinds, options.jobs, options.report)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
