"""Score a shaft tracker on clips with truth: ``python -m analysis.training.score DIR [--without-network]``.

Runs the whole engine, so the hands are those found in the pictures. Prints, for each view, the share of frames
answered and within 5 and 10 degrees (address to 0.1 s after impact, shaft at least half visible), who answered,
the stated against the observed confidence, the worst frames, and the cost.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analysis.adapters.truth import read_truth
from analysis.club.combine import ANSWERED, source_shares
from analysis.geometry import direction_deg, wrap_deg
from analysis.training.fit_confidence import reliability
from analysis.types import VIEWS, ClubTrack, Floats


@dataclass(frozen=True, slots=True)
class ClipScore:
    """Frames of one clip in the scored part: confidence, error in degrees, projected length, time."""

    name: str
    view: str
    confidence: Floats
    error: Floats
    length: Floats
    t_s: Floats
    shares: dict[str, float]


def score_track(name: str, truth: dict, club: ClubTrack) -> ClipScore:  # type: ignore[type-arg]
    """Compare a shaft track with a truth file; each scored frame of the track to the nearest true one."""
    meta, frames = truth["meta"], truth["frames"]
    t_s = np.array([f["t"] for f in frames], float)
    ends = np.array([f["club2d"] for f in frames], float)
    true = direction_deg(ends[:, 0], ends[:, 1])
    start, stop = meta["events"]["address"] - t_s[0], meta["events"]["impact"] + 0.1 - t_s[0]
    nearest = np.array([int(np.argmin(np.abs(t_s - t_s[0] - t))) for t in club.t_s], int)
    seen = np.array([f["shaft_visible"] for f in frames], float)[nearest] >= 0.5
    use = seen & (club.t_s >= start) & (club.t_s <= stop)
    error = np.abs(wrap_deg(club.deg - true[nearest]))
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)[nearest]
    return ClipScore(
        name, meta["view"], club.confidence[use], error[use], length[use], club.t_s[use], source_shares(club)
    )


def table(scores: list[ClipScore]) -> list[str]:
    """The report's lines."""
    lines = []
    for view in VIEWS:
        mine = [s for s in scores if s.view == view]
        if not mine:
            continue
        confidence, error = (np.concatenate([getattr(s, k) for s in mine]) for k in ("confidence", "error"))
        answered = confidence >= ANSWERED
        e = error[answered]
        lines.append(
            f"{view}: clips {len(mine)}, frames {len(error)}, answered {answered.mean():.3f} (bar .95), "
            f"within 5 deg {np.mean(e < 5):.3f} (bar .95), within 10 deg {np.mean(e < 10):.3f} (bar .99), "
            f"median {np.median(e):.2f}, worst {e.max():.1f}"
        )
        by = {k: np.mean([s.shares[k] for s in mine]) for k in ("network", "lines", "unseen")}
        lines.append("  all frames of the swings: " + ", ".join(f"{k} {v:.3f}" for k, v in by.items()))
        lines += [f"  {line}" for line in reliability(confidence, error)]
        lines += [f"  {line}" for line in worst_frames(mine)]
    return lines


def worst_frames(scores: list[ClipScore], most: int = 5) -> list[str]:
    """The answered frames that are furthest off."""
    rows = [
        (float(e), s.name, float(t), float(c), float(px))
        for s in scores
        for e, t, c, px in zip(s.error, s.t_s, s.confidence, s.length, strict=True)
        if c >= ANSWERED
    ]
    return [
        f"worst: {name} at {t:.3f} s, {e:.1f} deg off at confidence {c:.2f}, shaft {px:.0f} px long"
        for e, name, t, c, px in sorted(rows, reverse=True)[:most]
    ]


def main(arguments: Sequence[str]) -> int:
    """Score a folder; returns the exit status."""
    from analysis.pipeline import analyse_clip

    p = argparse.ArgumentParser(prog="python -m analysis.training.score", description=__doc__)
    p.add_argument("folder", type=Path)
    p.add_argument("--without-network", action="store_true", help="the lines have to do")
    options = p.parse_args(arguments)
    if options.without_network:
        _hide_network()
    scores, spent, count = [], 0.0, 0
    for clip in sorted(options.folder.glob("*.mp4")):
        truth = read_truth(clip.with_suffix(".json.gz"))
        began = time.process_time()
        swings = analyse_clip(clip).swings
        spent, count = spent + time.process_time() - began, count + len(truth["frames"])
        if swings:
            scores.append(score_track(clip.stem, truth, swings[0].tracks.club))
    print("\n".join(table(scores)))
    print(f"whole engine: {1e3 * spent / max(1, count):.0f} ms of processor time a frame of the clips")
    return 0 if scores else 1


def _hide_network() -> None:
    from analysis.adapters import digests

    digests.SHA256["shaft.onnx"] = "0" * 64
    digests.checked_model.cache_clear()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
