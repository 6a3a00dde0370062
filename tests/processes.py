"""What runs on this machine: from /proc where there is one, else as `ps` tells it."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path

PROC = Path("/proc")


@dataclass(frozen=True)
class Process:
    pid: int
    parent: int
    state: str
    command: str


def table() -> list[Process]:
    return _from_proc() if (PROC / "self" / "stat").exists() else _from_ps()


def _from_proc() -> list[Process]:
    found = []
    for folder in PROC.glob("[0-9]*"):
        try:
            state, parent = (folder / "stat").read_text().rpartition(")")[2].split()[:2]
            command = (folder / "cmdline").read_bytes().replace(b"\0", b" ").decode("utf-8", "replace")
        except OSError:
            continue  # it ended while we looked
        found.append(Process(int(folder.name), int(parent), state, command.strip()))
    return found


def _from_ps() -> list[Process]:
    done = subprocess.run(
        ["ps", "-ax", "-o", "pid=,ppid=,stat=,args="], capture_output=True, text=True, check=True
    )
    rows = [line.split(None, 3) for line in done.stdout.splitlines()]
    return [Process(int(row[0]), int(row[1]), row[2], row[3]) for row in rows if len(row) == 4]


def children_of(pid: int) -> list[int]:
    """All processes below `pid`, however deep."""
    everything = table()
    family, waiting = [], [pid]
    while waiting:
        parent = waiting.pop()
        below = [process.pid for process in everything if process.parent == parent]
        family += below
        waiting += below
    return family


def command_of(pid: int) -> str:
    return next((process.command for process in table() if process.pid == pid), "")


def runs(pid: int) -> bool:
    """A zombie has ended; only nobody has asked for its status yet."""
    return any(process.pid == pid and not process.state.startswith("Z") for process in table())
