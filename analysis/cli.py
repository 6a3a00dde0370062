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

from analysis.options import DONE, UNREADABLE, UNWRITABLE, OptionError, checked, parser
from analysis.pipeline import ClipReadout
from analysis.readout import SwingReadout


def main(arguments: Sequence[str]) -> int:
    """Run the command line; returns the exit status.

    Parameters
    ----------
    arguments : sequence of str
        Without the program's name.
    """
    from analysis.adapters.media import MediaError

    try:
        status = _run(checked(parser().parse_args(arguments)))
        sys.stdout.flush()
        return status
    except OptionError as error:
        return _say(error.sentence, error.status)
    except MediaError as error:
        return _say(error.sentence, UNREADABLE)
    except ValueError as error:
        return _say(f"This can't be measured: {error}", UNREADABLE)
    except BrokenPipeError:
        # Whoever read the output has left, as `head` does; nothing may be flushed into it at the end either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except OSError as error:
        return _say(f"A file can't be used: {error.strerror or error} ({error.filename})", UNWRITABLE)


def _say(sentence: str, status: int = DONE) -> int:
    print(sentence, file=sys.stderr)
    return status


def _run(options: argparse.Namespace) -> int:
    if options.bench is not None:
        from analysis.bench import run_bench

        return run_bench(options.bench, sys.stdout, report=options.report, jobs=options.jobs)
    if options.truth is not None:
        _print(truth_readout(options.truth), as_json=options.json)
        return DONE
    clip = _measured(options)
    readout = clip.swing_json(options.swing)
    if options.timings:
        readout["timings"] = clip.timings.to_json()
    _print(readout, as_json=options.json)
    if not options.json:
        print(clip.timings.line())
    _write(options, clip)
    return DONE


def _print(readout: dict[str, Any], *, as_json: bool) -> None:
    if as_json:
        print(json.dumps(readout, indent=1, allow_nan=False))
        return
    from analysis.text import readout_text

    print(readout_text(readout))


def _measured(options: argparse.Namespace) -> ClipReadout:
    from analysis.pipeline import analyse_clip

    with quiet_libraries():
        return analyse_clip(
            options.clip, declared_view=options.view, declared_hand=options.hand, club_class=options.club
        )


def _write(options: argparse.Namespace, clip: ClipReadout) -> None:
    """The files asked for; what a clip without a swing lacks is said, not written."""
    if (options.sheet or options.export) and not any(swing.events for swing in clip.swings):
        _say("No swing was measured, so there is nothing to draw or to export.")
        return
    if options.sheet is not None:
        _write_sheet(clip.path, clip.swings[options.swing - 1], options.sheet)
    if options.export is not None:
        from analysis.adapters.export import export_swing

        for swing in clip.swings:
            written = export_swing(swing, options.export, options.format)
            _say(f"Swing {swing.number}: {', '.join(path.name for path in written)} in {options.export}")


def _write_sheet(clip: Path, swing: SwingReadout, path: Path) -> None:
    from analysis.adapters.sheet import encoded, event_pictures, event_sheet

    path.write_bytes(encoded(event_sheet(swing, event_pictures(clip, swing)), path.suffix))
    _say(f"Sheet: {path}")


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
