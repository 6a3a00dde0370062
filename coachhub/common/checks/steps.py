"""All checks in the order in which they are shown."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from coachhub.common.checks import browser, imports, sizes, words
from coachhub.common.checks.findings import Finding

Action = Callable[[Path], tuple[int, str]]


@dataclass(frozen=True)
class Step:
    name: str
    action: Action
    only_warns: bool = False


@dataclass(frozen=True)
class Result:
    step: Step
    status: int
    text: str
    seconds: float

    @property
    def failed(self) -> bool:
        return self.status != 0 and not self.step.only_warns


def program(*words: str) -> Action:
    def run(root: Path) -> tuple[int, str]:
        command = [sys.executable, *words]
        done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
        output = (done.stdout + done.stderr).strip()
        return done.returncode, output if done.returncode else output.splitlines()[-1] if output else ""

    return run


def own_rule(check: Callable[[Path], list[Finding]]) -> Action:
    def run(root: Path) -> tuple[int, str]:
        found = check(root)
        return len(found), "\n".join(map(str, found))

    return run


STEPS = (
    Step("lint", program("-m", "ruff", "check", ".")),
    Step("format", program("-m", "ruff", "format", "--check", ".")),
    Step("types", program("-m", "mypy", "analysis", "coachhub")),
    Step("migrations", program("manage.py", "makemigrations", "--check", "--dry-run")),
    Step("framework", program("manage.py", "check", "--fail-level", "WARNING")),
    Step("import directions", own_rule(imports.check)),
    Step("machine paths and secrets", own_rule(words.check)),
    Step("browser syntax", browser.syntax),
    Step("browser types", browser.types),
    Step("browser unit tests", browser.unit_tests),
    Step("sizes", own_rule(sizes.check), only_warns=True),
)


def run_all(root: Path, chosen: tuple[Step, ...], show: Callable[[Result], None]) -> list[Result]:
    """Run two at a time, show each in order as soon as it is its turn."""

    def timed(step: Step) -> Result:
        began = time.monotonic()
        status, text = step.action(root)
        return Result(step, status, text, time.monotonic() - began)

    results = []
    with ThreadPoolExecutor(max_workers=2) as pool:
        for result in pool.map(timed, chosen):
            show(result)
            results.append(result)
    return results
