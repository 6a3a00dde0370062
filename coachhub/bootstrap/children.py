"""Child processes that are watched, restarted and ended together with their parent."""

from __future__ import annotations

import contextlib
import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from coachhub.bootstrap.failures import SetupError
from coachhub.bootstrap.progress import tail

PR_SET_PDEATHSIG = 1
QUICK_DEATH_S = 10.0
MOST_QUICK_DEATHS = 4


def _end_with_parent() -> None:
    """On Linux the kernel tells the child when its parent was killed; elsewhere an orphan may stay."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


@dataclass
class Child:
    """One program in a process group of its own, its output in a log file."""

    name: str
    command: Sequence[str]
    log: Path
    env: Mapping[str, str] | None = None
    user: str | None = None
    cwd: Path | None = None
    stop_signal: int = signal.SIGTERM
    quick_deaths: int = 0
    started_at: float = 0.0
    process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    def start(self) -> None:
        self.log.parent.mkdir(parents=True, exist_ok=True)
        with self.log.open("ab") as file:
            self.process = subprocess.Popen(
                self.command,
                stdin=subprocess.DEVNULL,
                stdout=file,
                stderr=subprocess.STDOUT,
                env=self.env,
                cwd=self.cwd,
                user=self.user,
                start_new_session=True,
                preexec_fn=_end_with_parent,
            )
        self.started_at = time.monotonic()

    def alive(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def signal(self, number: int) -> None:
        """Send to the whole group; nothing happens when it is gone."""
        if self.process is None:
            return
        try:
            os.killpg(self.process.pid, number)
        except (ProcessLookupError, PermissionError):
            return

    def stop(self, grace_s: float = 10.0) -> None:
        if self.process is None:
            return
        if self.alive():
            self.process.send_signal(self.stop_signal)
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.process.wait(grace_s)
        self.signal(signal.SIGKILL)
        self.process.wait()

    def last_words(self, lines: int = 12) -> str:
        return "\n".join(tail(self.log).splitlines()[-lines:]) if self.log.exists() else ""


def stop_all(children: Sequence[Child], grace_s: float = 10.0) -> None:
    """Tell all at once, then wait for each."""
    for child in reversed(children):
        if child.alive() and child.process is not None:
            child.process.send_signal(child.stop_signal)
    deadline = time.monotonic() + grace_s
    for child in reversed(children):
        child.stop(max(0.1, deadline - time.monotonic()))


def revive(child: Child, say: Callable[[str], None]) -> None:
    """Start a dead child again; give up with a sentence when it dies at once time after time."""
    if child.alive():
        return
    quick = time.monotonic() - child.started_at < QUICK_DEATH_S
    child.quick_deaths = child.quick_deaths + 1 if quick else 0
    if child.quick_deaths >= MOST_QUICK_DEATHS:
        raise SetupError(
            f"The {child.name} stops again and again. Its last words:\n{child.last_words()}",
            f"read {child.log}, and run `python3 manage.py doctor`.",
        )
    status = child.process.returncode if child.process else None
    say(f"The {child.name} ended (status {status}); starting it again.")
    child.start()
