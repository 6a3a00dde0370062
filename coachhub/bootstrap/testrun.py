"""Run the tests on both forms: SQLite with a broker of files, then PostgreSQL with Redis."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

from coachhub.bootstrap import layout
from coachhub.bootstrap.progress import say
from coachhub.bootstrap.servers import Servers

EMBEDDED, SCALED = "embedded", "scaled"
SELECTION = {EMBEDDED: "not scaled", SCALED: "integration or scaled"}
TITLES = {EMBEDDED: "SQLite and a broker of files", SCALED: "PostgreSQL and Redis"}
NO_TESTS = 5
# Set when a server is missing: every test of the second form is then skipped by name.
SKIP_VARIABLE = "COACHHUB_SKIP_SCALED"
SERVER_VARIABLES = ("DATABASE_URL", "BROKER_URL", "S3_BUCKET")


@dataclass(frozen=True)
class Outcome:
    form: str
    status: int
    passed: int
    failed: int
    skipped: int
    seconds: float

    def line(self) -> str:
        counts = f"{self.passed} passed, {self.failed} failed, {self.skipped} skipped"
        return f"  {TITLES[self.form]:<30} {counts} ({self.seconds:.0f} s)"


def run(words: Sequence[str]) -> int:
    """Run pytest with `words` added; returns the exit status of the whole."""
    forms, rest = split_forms(words)
    outcomes = []
    with tempfile.TemporaryDirectory(prefix="coachhub-tests-") as folder:
        for form in forms:
            outcomes.append(
                _embedded(rest, Path(folder)) if form == EMBEDDED else _scaled(rest, Path(folder))
            )
    return summarise(outcomes)


def split_forms(words: Sequence[str]) -> tuple[list[str], list[str]]:
    """Take `--form embedded|scaled` out of the words; without it, both."""
    forms, rest = [EMBEDDED, SCALED], []
    for word in words:
        if word.startswith("--form="):
            wanted = word.partition("=")[2]
            if wanted not in SELECTION:
                raise SystemExit(f"--form must be one of {sorted(SELECTION)}, not {wanted!r}.")
            forms = [wanted]
        else:
            rest.append(word)
    return forms, rest


def narrowed(form: str, words: Sequence[str]) -> list[str]:
    """The words with the form's own selection of marks joined to the caller's `-m`."""
    rest, theirs, words = [], "", list(words)
    while words:
        word = words.pop(0)
        if word == "-m" and words:
            theirs = words.pop(0)
        else:
            rest.append(word)
    marks = f"({theirs}) and ({SELECTION[form]})" if theirs else SELECTION[form]
    return ["-m", marks, *rest]


def _embedded(words: Sequence[str], folder: Path) -> Outcome:
    return _pytest(EMBEDDED, words, folder, {})


def _scaled(words: Sequence[str], folder: Path) -> Outcome:
    with Servers() as servers:
        env = dict(servers.urls)
        if servers.absent:
            reason = f"not installed: {', '.join(servers.absent)}"
            say(f"The tests on PostgreSQL and Redis are skipped: {reason}")
            env = {SKIP_VARIABLE: reason}
        return _pytest(SCALED, words, folder, env)


def _pytest(form: str, words: Sequence[str], folder: Path, extra: Mapping[str, str]) -> Outcome:
    say(f"\nTests with {TITLES[form]}")
    own = folder / form
    own.mkdir()
    report = own / "report.xml"
    env = {name: value for name, value in os.environ.items() if name not in SERVER_VARIABLES}
    env |= {"COACHHUB_VAR": str(own), "PYTHONUNBUFFERED": "1", **extra}
    command = [sys.executable, "-m", "pytest", f"--junitxml={report}", *narrowed(form, words)]
    began = time.monotonic()
    status = subprocess.run(command, cwd=layout.ROOT, env=env, check=False).returncode
    return read_report(form, report, status, time.monotonic() - began)


def read_report(form: str, report: Path, status: int, seconds: float) -> Outcome:
    passed = failed = skipped = 0
    if report.exists():
        for suite in ElementTree.parse(report).getroot().iter("testsuite"):
            broken = int(suite.get("failures", 0)) + int(suite.get("errors", 0))
            left = int(suite.get("skipped", 0))
            passed += int(suite.get("tests", 0)) - broken - left
            failed += broken
            skipped += left
    return Outcome(form, status, passed, failed, skipped, seconds)


def summarise(outcomes: Sequence[Outcome]) -> int:
    """Print the counts; returns 0 only if tests ran and every form's run was good."""
    print("\nTests by form")
    for outcome in outcomes:
        print(outcome.line())
    passed = sum(outcome.passed for outcome in outcomes)
    failed = sum(outcome.failed for outcome in outcomes)
    skipped = sum(outcome.skipped for outcome in outcomes)
    print(f"{passed} passed, {failed} failed, {skipped} skipped", flush=True)
    bad = [outcome.status for outcome in outcomes if outcome.status not in (0, NO_TESTS)]
    if bad:
        return bad[0]
    return 0 if passed else NO_TESTS
