"""A visible line for whatever takes long."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TextIO

QUIET_EVERY_S = 15.0
LIVE_EVERY_S = 0.5
TAIL_BYTES = 8000


def say(text: str, *, to: TextIO | None = None) -> None:
    stream = to or sys.stderr
    stream.write(text + "\n")
    stream.flush()


class Line:
    """`label ... 12 s`, rewritten in place on a terminal, repeated now and then elsewhere."""

    def __init__(self, label: str, *, to: TextIO | None = None) -> None:
        self.label = label
        self.stream = to or sys.stderr
        self.live = self.stream.isatty()
        self.started = time.monotonic()
        self.shown_at = self.started

    def start(self) -> None:
        self._write(f"{self.label} ...")

    def tick(self) -> None:
        now = time.monotonic()
        if now - self.shown_at < (LIVE_EVERY_S if self.live else QUIET_EVERY_S):
            return
        self.shown_at = now
        self._write(f"{self.label} ... {now - self.started:.0f} s")

    def end(self, word: str = "done") -> None:
        self._write(f"{self.label} ... {word} ({time.monotonic() - self.started:.0f} s)", last=True)

    def _write(self, text: str, *, last: bool = False) -> None:
        self.stream.write(f"\r\x1b[K{text}" + ("\n" if last else "") if self.live else text + "\n")
        self.stream.flush()


def run_showing(
    label: str, command: Sequence[str], log: Path, *, env: Mapping[str, str] | None = None
) -> tuple[int, str]:
    """Run a command with a progress line; its output goes to `log`. Returns its exit status and last output."""
    log.parent.mkdir(parents=True, exist_ok=True)
    line = Line(label)
    line.start()
    with log.open("ab") as file:
        begin = file.tell()
        child = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=file,
            stderr=subprocess.STDOUT,
            env=env or dict(os.environ),
        )
        try:
            while child.poll() is None:
                line.tick()
                time.sleep(0.1)
        except BaseException:
            child.terminate()
            child.wait()
            raise
    line.end("done" if child.returncode == 0 else "failed")
    return child.returncode, tail(log, begin)


def tail(log: Path, begin: int = 0) -> str:
    with log.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(max(begin, size - TAIL_BYTES))
        return file.read().decode("utf-8", "replace")
