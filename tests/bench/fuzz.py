"""A thousand damaged clips through the sandbox: ``python -m tests.bench.fuzz`` prints the report."""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path

from analysis.adapters.sandbox import ChildError, Limits, run_limited
from tests.analysis.adapters.damage import damaged, whole_clips

MB = 1024**2
COUNT, IN_ONE_CHILD = 1000, 10
LIMITS = Limits(cpu_s=60, memory_bytes=1500 * MB, file_bytes=MB, wall_s=120)
TARGET = "tests.analysis.adapters.fuzz_targets:look_at_all"


@dataclass
class Report:
    """What came of the files, and what the parent held before and after."""

    codes: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    mistakes: list[str] = field(default_factory=list)
    deaths: list[str] = field(default_factory=list)
    slowest_s: float = 0.0
    seconds: float = 0.0
    descriptors: tuple[int, int] = (0, 0)
    left_in_tmp: int = 0
    memory_mb: tuple[float, float] = (0.0, 0.0)
    child_peak_mb: float = 0.0
    zombies: int = 0

    @property
    def files(self) -> int:
        """Files that ended in an answer."""
        return sum(sum(counter.values()) for counter in self.codes.values())

    def text(self) -> str:
        """The report as plain text."""
        lines = [
            f"{self.files} damaged clips, {IN_ONE_CHILD} in each confined child, probed, decoded and listened to",
            f"ended in an answer          {self.files}",
            f"our own mistakes            {len(self.mistakes)}",
            f"children that died or hung  {len(self.deaths)}",
            f"slowest child               {self.slowest_s:.1f} s of {LIMITS.wall_s:.0f} s",
            f"all together                {self.seconds:.0f} s",
            f"parent's open files         {self.descriptors[0]} before, {self.descriptors[1]} after",
            f"left in the temporary place {self.left_in_tmp}",
            f"parent's memory             {self.memory_mb[0]:.0f} MB before, {self.memory_mb[1]:.0f} MB after",
            f"largest child               {self.child_peak_mb:.0f} MB",
            f"unreaped children           {self.zombies}",
            "",
            "how they ended, by kind of damage",
        ]
        for kind in sorted(self.codes):
            ends = ", ".join(f"{code} {n}" for code, n in self.codes[kind].most_common())
            lines.append(f"  {kind:14s} {ends}")
        return "\n".join([*lines, *self.mistakes, *self.deaths])


def fuzz(folder: Path, count: int = COUNT) -> Report:
    """Run ``count`` damaged clips through children; the folder must be empty."""
    room = folder / "tmp"
    room.mkdir()
    os.environ["TMPDIR"], before = str(room), os.environ.get("TMPDIR")
    report, clips = Report(), whole_clips(folder)
    _batch(folder, range(IN_ONE_CHILD), clips, Report())  # whatever a first run loads once
    begun, files, memory = time.monotonic(), _open_files(), _memory_mb()
    try:
        for start in range(0, count, IN_ONE_CHILD):
            _batch(folder, range(start, min(count, start + IN_ONE_CHILD)), clips, report)
    finally:
        if before is None:
            del os.environ["TMPDIR"]
        else:
            os.environ["TMPDIR"] = before
    report.seconds = time.monotonic() - begun
    report.descriptors = files, _open_files()
    report.memory_mb = memory, _memory_mb()
    report.left_in_tmp = len(os.listdir(room))
    report.child_peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    report.zombies = _unreaped()
    return report


def _batch(folder: Path, numbers: range, clips: list[bytes], report: Report) -> None:
    kinds, paths = [], []
    for number in numbers:
        kind, data = damaged(number, clips)
        kinds.append(kind)
        paths.append(folder / f"{number:04d}_{kind}.bin")
        paths[-1].write_bytes(data)
    begun = time.monotonic()
    try:
        answers = run_limited(TARGET, {"paths": [str(path) for path in paths]}, limits=LIMITS)
    except ChildError as error:
        report.deaths.append(
            f"{paths[0].name} and the following: {error.kind} {error.code} {error.detail[-300:]}"
        )
        answers = []
    report.slowest_s = max(report.slowest_s, time.monotonic() - begun)
    for kind, path, answer in zip(kinds, paths, answers, strict=False):
        report.codes[kind][answer.get("code", "our mistake")] += 1
        if "mistake" in answer:
            report.mistakes.append(f"{path.name}: {answer['mistake']}")
    for path in paths:
        path.unlink()


def _open_files() -> int:
    own = Path("/proc/self/fd") if Path("/proc/self/fd").exists() else Path("/dev/fd")
    return len(os.listdir(own))


def _memory_mb() -> float:
    """Resident memory now, where the system tells; else the peak."""
    status = Path("/proc/self/status")
    if status.exists():
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmRSS"))
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _unreaped() -> int:
    """1 when a child has ended that nobody waited for."""
    try:
        return int(os.waitid(os.P_ALL, 0, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None)
    except ChildProcessError:
        return 0


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        print(fuzz(Path(place), int(sys.argv[1]) if len(sys.argv) > 1 else COUNT).text())
