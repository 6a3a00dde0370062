"""A drawn set of clips with truth: ``python -m analysis.training.clip_set OUT --seed 7 --count 84 --workers 14``.

Half the golfers are the bodies of ``body.BODIES`` and ``body.MIXED_BODIES``, half are mixed anew; fault, amount, club,
camera, light, shutter, compression and hand are drawn. The same seed draws the same set; clips that are there are kept.
"""

from __future__ import annotations

import argparse
import multiprocessing as mp
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from analysis.training.body import BODIES, MIXED_BODIES, random_mix
from analysis.training.clips import parser as clip_parser
from analysis.training.clips import render_clip
from analysis.training.clubs import CLUBS
from analysis.training.light import LIGHTS
from analysis.training.looks import LOOKS
from analysis.training.parameters import FAULTS
from analysis.types import DOWN_THE_LINE, FACE_ON

# Faults that are judged from behind the golfer; all others are judged face-on.
FROM_BEHIND = ("steep", "over_the_top", "early_extension")
SLOW_SHARE, LEFT_SHARE, NO_STICK_SHARE = 0.07, 0.2, 0.3
# Clean swings of a cycle, beside its faults.
_CLEAN = (("none", FACE_ON), ("none", DOWN_THE_LINE)) * 3


def jobs(count: int, seed: int, prefix: str, fault_amount: float | None = None) -> list[list[str]]:
    """Command lines of ``analysis.training.clips``, drawn.

    Parameters
    ----------
    count, seed : int
    prefix : str
        Begins each clip's name.
    fault_amount : float, optional
        The amount of every fault; without it two of three are at full amount, the others at 0.3 to 0.95.

    Raises
    ------
    ValueError
        If ``count`` is not positive.
    """
    if count < 1:
        raise ValueError(f"count must be at least 1, got {count}")
    draw = np.random.default_rng(seed)
    kinds = [(fault, DOWN_THE_LINE if fault in FROM_BEHIND else FACE_ON) for fault in FAULTS[1:]]
    # Three faults are seen from behind and nine face-on: those three come twice, so that both views are judged.
    cycle = [*kinds, *[(fault, DOWN_THE_LINE) for fault in FROM_BEHIND], *_CLEAN]
    return [_job(f"{prefix}{k:03d}", *cycle[k % len(cycle)], fault_amount, draw) for k in range(count)]


def _job(name: str, fault: str, view: str, amount: float | None, draw: np.random.Generator) -> list[str]:
    names = (*BODIES, *MIXED_BODIES)
    body = names[draw.integers(len(names))] if draw.random() < 0.5 else random_mix(draw)
    drawn = 1.0 if draw.random() < 2 / 3 else float(draw.uniform(0.3, 0.95))
    row = {
        "name": f"{name}_{'fo' if view == FACE_ON else 'dtl'}_{fault}",
        "view": view,
        "fault": fault,
        "amount": f"{drawn if amount is None else amount:.2f}",
        "body": body,
        "look": sorted(LOOKS)[draw.integers(len(LOOKS))],
        "light": sorted(LIGHTS)[draw.integers(len(LIGHTS))],
        "club": sorted(CLUBS)[draw.integers(len(CLUBS))],
        "fps": "30" if draw.random() < SLOW_SHARE else "60",
        "backswing": f"{draw.uniform(0.66, 0.98):.3f}",
        "downswing": f"{draw.uniform(0.22, 0.31):.3f}",
        "yaw": f"{np.clip(draw.normal() * 3, -6, 6):.2f}",
        "dist": f"{draw.uniform(2.8, 3.9):.2f}",
        "height": f"{draw.uniform(0.9, 1.3):.2f}",
        "shake": f"{draw.uniform(0, 1.2):.2f}",
        "readout": f"{draw.uniform(0, 0.016):.4f}",
        "stick": f"{draw.uniform(-4, 4):.1f}",
        "seed": str(draw.integers(1, 100_000)),
        "crf": str(draw.integers(20, 27)),
    }
    flags = [f"--{name}={value}" for name, value in row.items()]
    flags += ["--left"] if draw.random() < LEFT_SHARE else []
    return flags + (["--without-stick"] if draw.random() < NO_STICK_SHARE else [])


def _render(job: tuple[list[str], Path]) -> str:
    flags, out = job
    options = clip_parser().parse_args([*flags, f"--out={out}"])
    if (out / f"{options.name}.json.gz").is_file():
        return f"{options.name}: there"
    try:
        frames, seconds = render_clip(options)
    except (ValueError, ArithmeticError, np.linalg.LinAlgError) as error:
        # A drawn swing can be one that this body can't do.
        return f"{options.name}: can't be rendered: {error}"
    return f"{options.name}: {frames} frames in {seconds:.1f} s"


def main(arguments: Sequence[str]) -> int:
    """Render a set; returns the exit status."""
    p = argparse.ArgumentParser(prog="python -m analysis.training.clip_set", description=__doc__)
    p.add_argument("out", type=Path)
    p.add_argument("--count", type=int, default=84)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--prefix", default="c", help="begins each clip's name")
    p.add_argument("--amount", type=float, help="of every fault, 0..1; drawn without it")
    p.add_argument("--workers", type=int, default=1)
    p.add_argument("--list", action="store_true", help="only print the command lines")
    options = p.parse_args(arguments)
    try:
        rows = jobs(options.count, options.seed, options.prefix, options.amount)
    except ValueError as error:
        print(f"This can't be rendered: {error}", file=sys.stderr)
        return 64
    if options.list:
        print("\n".join(" ".join(row) for row in rows))
        return 0
    began = time.monotonic()
    with mp.get_context("spawn").Pool(options.workers) as pool:
        for line in pool.imap_unordered(_render, [(row, options.out) for row in rows]):
            print(line, flush=True)
    there = len(list(options.out.glob(f"{options.prefix}*.json.gz")))
    print(f"{there} of {len(rows)} clips in {time.monotonic() - began:.0f} s")
    return 0 if there == len(rows) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
