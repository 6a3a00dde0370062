"""The command line's options: what they are, and what is wrong with them before anything costs time."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

from analysis.types import CLUB_CLASSES, HANDS, VIEWS

DONE, UNREADABLE, WRONG_USE, UNWRITABLE = 0, 2, 64, 73
FORMATS = ("csv", "parquet", "c3d")
SHEET_ENDINGS = (".png", ".jpg", ".jpeg")
MOST_JOBS = 64
_AFTER = f"""\
one of CLIP, --truth and --bench says what to measure. Results go to standard output, everything else to
standard error.

exit status:
  {DONE}   the readout was printed (a clip without a measurable swing has one too: it says why)
  {UNREADABLE}   the input can't be read or measured
  {WRONG_USE}  the options don't go together
  {UNWRITABLE}  a result can't be written

examples:
  python -m analysis swing.mp4
  python -m analysis swing.mp4 --view face_on --hand left --club driver --json
  python -m analysis swing.mp4 --sheet swing.png
  python -m analysis swing.mp4 --export tracks --format csv,c3d
  python -m analysis --bench fixtures/clips --jobs 2 --report bench.txt

One phone can't see everything: the readout ends with what stays unseen. How accurate it is on real footage is
not validated.
"""


class OptionError(Exception):
    """Options that can't be carried out.

    Parameters
    ----------
    sentence : str
        What is wrong and what to do.
    status : int
        The exit status.
    """

    def __init__(self, sentence: str, status: int = WRONG_USE) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.status = status


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise OptionError(f"{message[:1].upper()}{message[1:]}. See --help.")


def parser() -> argparse.ArgumentParser:
    """What ``--help`` shows."""
    made = _Parser(
        prog="python -m analysis",
        description="Measure a golf swing in a video clip: events, metrics with their errors, signs with evidence.",
        epilog=_AFTER,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    what = made.add_argument_group("what to measure")
    what.add_argument("clip", nargs="?", type=Path, metavar="CLIP", help="a video file")
    what.add_argument(
        "--truth", type=Path, metavar="FILE", help="the tracks of a truth file, without pictures"
    )
    what.add_argument(
        "--bench", type=Path, metavar="DIR", help="score every clip in DIR beside its truth file"
    )
    bench = made.add_argument_group("with --bench")
    bench.add_argument(
        "--report",
        type=Path,
        metavar="FILE",
        help="write the table there too, and its main numbers beside as .json",
    )
    bench.add_argument("--jobs", type=int, default=1, metavar="N", help="clips at the same time (default 1)")
    said = made.add_argument_group("what is known of the clip")
    said.add_argument(
        "--swing", type=int, default=1, metavar="N", help="which swing of the clip, from 1 (default 1)"
    )
    said.add_argument("--view", choices=VIEWS, help="from where it was filmed (dtl: down-the-line)")
    said.add_argument("--hand", choices=HANDS, help="the golfer's hand; wins over what is measured")
    said.add_argument("--club", choices=CLUB_CLASSES, help="club class")
    out = made.add_argument_group("results")
    out.add_argument("--json", action="store_true", help="print the readout as JSON, the same each time")
    out.add_argument("--timings", action="store_true", help="with --json: add the seconds of each stage")
    out.add_argument("--sheet", type=Path, metavar="FILE", help="the events as one picture, .png or .jpg")
    out.add_argument(
        "--export", type=Path, metavar="DIR", help="the tracks of all swings of the clip as files"
    )
    out.add_argument(
        "--format",
        type=_formats,
        metavar="LIST",
        help="with --export: among csv,parquet,c3d (default csv,c3d)",
    )
    return made


def _formats(text: str) -> tuple[str, ...]:
    names = tuple(dict.fromkeys(name.strip().lower() for name in text.split(",") if name.strip()))
    if not names or set(names) - set(FORMATS):
        raise argparse.ArgumentTypeError(f"must be among {','.join(FORMATS)}, got '{text}'")
    return names


def checked(options: argparse.Namespace) -> argparse.Namespace:
    """The options, if they can be carried out.

    Raises
    ------
    OptionError
        With a sentence and the exit status.
    """
    _check_together(options)
    if options.clip is not None:
        _check_readable(options.clip)
    if options.sheet is not None:
        _check_sheet(options.sheet)
    if options.report is not None:
        _check_report(options.report)
    if options.export is not None:
        options.format = options.format or ("csv", "c3d")
        _check_export(options.export, options.format)
    return options


def _check_together(options: argparse.Namespace) -> None:
    given = [x for x in (options.clip, options.truth, options.bench) if x is not None]
    if len(given) != 1:
        raise OptionError("Name one clip, or --truth FILE, or --bench DIR. See --help.")
    if options.clip is None:
        names = ("view", "hand", "club", "sheet", "export", "format")
        wrong = [f"--{name}" for name in names if getattr(options, name) is not None]
        wrong += ["--timings"] if options.timings else []
        wrong += ["--swing"] if options.swing != 1 else []
        wrong += ["--json"] if options.json and options.bench is not None else []
        if wrong:
            kind = "--truth" if options.truth is not None else "--bench"
            raise OptionError(f"{kind} doesn't go with {', '.join(wrong)}: leave it out, or name a clip.")
    if options.bench is None and (options.report is not None or options.jobs != 1):
        raise OptionError("--report and --jobs go with --bench DIR only.")
    if not 1 <= options.jobs <= MOST_JOBS:
        raise OptionError(f"--jobs must be in 1..{MOST_JOBS}, got {options.jobs}.")
    if options.swing < 1:
        raise OptionError(f"--swing counts from 1, got {options.swing}.")
    if options.format is not None and options.export is None:
        raise OptionError("--format says how to export: name the folder with --export DIR.")
    if options.timings and not options.json:
        raise OptionError("--timings goes with --json; without it the timings are printed anyway.")


def _check_readable(clip: Path) -> None:
    if clip.is_dir():
        raise OptionError(
            f"{clip} is a folder. Name one clip, or measure all with --bench {clip}.", UNREADABLE
        )
    if not _allowed(clip.exists):
        raise OptionError(f"There is no file {clip}.", UNREADABLE)
    if not clip.is_file():
        raise OptionError(f"{clip} is no file.", UNREADABLE)
    if not os.access(clip, os.R_OK):
        raise OptionError(f"{clip} can't be opened: reading it is not permitted.", UNREADABLE)


def _allowed(look: Callable[[], bool]) -> bool:
    try:
        return look()
    except OSError:
        return False


def _check_sheet(path: Path) -> None:
    if path.suffix.lower() not in SHEET_ENDINGS:
        raise OptionError(f"--sheet must end with {' or '.join(SHEET_ENDINGS)}, got {path.name}.")
    if path.is_dir():
        raise OptionError(f"--sheet {path} is a folder: give a file name.", UNWRITABLE)
    if not path.parent.is_dir():
        raise OptionError(f"There is no folder {path.parent} for the sheet: make it first.", UNWRITABLE)
    if not os.access(path if path.exists() else path.parent, os.W_OK):
        raise OptionError(f"The sheet can't be written: {path} is not permitted.", UNWRITABLE)


def _check_report(path: Path) -> None:
    if path.suffix.lower() == ".json":
        raise OptionError("--report writes text: its numbers go beside it as .json. Name it FILE.txt.")
    if path.is_dir():
        raise OptionError(f"--report {path} is a folder: give a file name.", UNWRITABLE)
    if not path.parent.is_dir():
        raise OptionError(f"There is no folder {path.parent} for the report: make it first.", UNWRITABLE)


def _check_export(folder: Path, wanted: tuple[str, ...]) -> None:
    from analysis.adapters.export import missing_library

    if library := missing_library(wanted):
        raise OptionError(
            f"The library {library} is not installed: pip install {library}, or leave its --format out."
        )
    if folder.exists() and not folder.is_dir():
        raise OptionError(f"--export {folder} is a file: name a folder.", UNWRITABLE)
    there = next(part for part in (folder, *folder.absolute().parents) if part.exists())
    if not os.access(there, os.W_OK):
        raise OptionError(f"Nothing can be exported to {folder}: {there} is not permitted.", UNWRITABLE)
