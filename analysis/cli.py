"""Command line: measure a clip, a truth file, or a folder of clips with truth."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from analysis.types import CLUB_CLASSES, HANDS, VIEWS

UNREADABLE, WRONG_USE = 2, 64


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m analysis", description="Measure a golf swing in a video clip."
    )
    parser.add_argument("clip", nargs="?", type=Path, help="video file")
    parser.add_argument("--json", action="store_true", help="print the readout as JSON")
    parser.add_argument("--swing", type=int, default=1, help="which swing of the clip, from 1")
    parser.add_argument("--view", choices=VIEWS, help="the view, if known")
    parser.add_argument("--hand", choices=HANDS, help="the golfer's hand, if known")
    parser.add_argument("--club", choices=CLUB_CLASSES, help="club class, if known")
    parser.add_argument(
        "--truth", type=Path, metavar="FILE", help="readout of a truth file's tracks instead of pictures"
    )
    parser.add_argument(
        "--bench", type=Path, metavar="DIR", help="score every clip in DIR that has a truth file"
    )
    return parser


def main(arguments: Sequence[str]) -> int:
    """Run the command line; returns the exit status.

    Parameters
    ----------
    arguments : sequence of str
        Without the program's name.
    """
    options = _parser().parse_args(arguments)
    given = [x for x in (options.clip, options.truth, options.bench) if x is not None]
    if len(given) != 1:
        print("Name one clip, or --truth FILE, or --bench DIR.", file=sys.stderr)
        return WRONG_USE
    try:
        return _run(options)
    except ValueError as error:
        print(f"This can't be measured: {error}", file=sys.stderr)
        return UNREADABLE


def _run(options: argparse.Namespace) -> int:
    if options.bench is not None:
        from analysis.bench import run_bench

        return run_bench(options.bench, sys.stdout)
    if options.truth is not None:
        readout = truth_readout(options.truth)
    else:
        found = _clip_readout(options)
        if found is None:
            return UNREADABLE
        readout = found
    if options.json:
        print(json.dumps(readout, indent=1, allow_nan=False))
    else:
        from analysis.text import readout_text

        print(readout_text(readout))
    return 0


def _clip_readout(options: argparse.Namespace) -> dict[str, Any] | None:
    from analysis.adapters.media import MediaError
    from analysis.pipeline import analyse_clip

    if not options.clip.is_file():
        print(f"There is no file {options.clip}.", file=sys.stderr)
        return None
    try:
        with quiet_libraries():
            clip = analyse_clip(
                options.clip, declared_view=options.view, declared_hand=options.hand, club_class=options.club
            )
    except MediaError as error:
        print(error.sentence, file=sys.stderr)
        return None
    return clip.swing_json(options.swing)


@contextmanager
def quiet_libraries() -> Iterator[None]:
    """The pose library's native part writes some hundred lines to file descriptor 2 and has no switch for it."""
    sys.stderr.flush()
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        sys.stderr.flush()
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


def truth_readout(path: Path) -> dict[str, Any]:
    """The readout computed from a truth file's tracks and events."""
    from analysis.adapters.truth import read_truth, truth_swing
    from analysis.readout import read_swing

    data = read_truth(path)
    tracks, events = truth_swing(data)
    end_s = float(tracks.pose.t_s[-1])
    swing = read_swing(tracks, events, number=1, start_s=0.0, end_s=end_s, fps=tracks.fps)
    return swing.to_json()
