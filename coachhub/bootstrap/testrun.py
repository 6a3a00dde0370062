"""Run the tests on both forms: SQLite with a broker of files, then PostgreSQL with Redis.

On each form most tests run on several cores at once; those that measure time follow alone.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from xml.etree import ElementTree

from coachhub.bootstrap import layout
from coachhub.bootstrap.progress import say
from coachhub.bootstrap.servers import Servers

EMBEDDED, SCALED = "embedded", "scaled"
SELECTION = {EMBEDDED: "not scaled", SCALED: "integration or scaled"}
TITLES = {EMBEDDED: "SQLite and a broker of files", SCALED: "PostgreSQL and Redis"}
NO_TESTS = 5
ALONE = "bench"
# Each process may hold a browser and a pose model: more than this fills a small machine's memory.
MOST_PROCESSES = 6
# Words after which the tests talk to the one who started them, or which choose the processes themselves.
IN_ONE_PROCESS = ("-s", "--capture=no", "--pdb", "--trace", "--collect-only", "--co", "-n", "--numprocesses")
# Set when a server is missing: every test of the second form is then skipped by name.
SKIP_VARIABLE = "COACHHUB_SKIP_SCALED"
# Where clips that were measured once are kept for all tests of the run: tests/measured.py.
MEASURED_VARIABLE = "COACHHUB_MEASURED"
PARTING_PLUGIN = "tests.workers"
GRACE_S = 20.0
SERVER_VARIABLES = ("DATABASE_URL", "BROKER_URL", "S3_BUCKET")


@dataclass(frozen=True)
class Outcome:
    form: str
    status: int
    passed: int
    failed: int
    skipped: int
    seconds: float

    def __add__(self, other: Outcome) -> Outcome:
        """Two parts of one form's run; a part in which there was nothing to do says nothing."""
        statuses = [part.status for part in (self, other) if part.status != NO_TESTS]
        bad = [status for status in statuses if status]
        return Outcome(
            self.form,
            (bad or statuses or [NO_TESTS])[0],
            self.passed + other.passed,
            self.failed + other.failed,
            self.skipped + other.skipped,
            self.seconds + other.seconds,
        )

    def line(self) -> str:
        counts = f"{self.passed} passed, {self.failed} failed, {self.skipped} skipped"
        return f"  {TITLES[self.form]:<30} {counts} ({self.seconds:.0f} s)"


def run(words: Sequence[str]) -> int:
    """Run pytest with `words` added; returns the exit status of the whole."""
    forms, rest = split_forms(words)
    outcomes = []
    with ended_like_by_hand(), tempfile.TemporaryDirectory(prefix="coachhub-tests-") as folder:
        # Tests that start servers of their own do so below it, and a server's own user must get there.
        Path(folder).chmod(0o711)
        for form in forms:
            outcomes.append(
                _embedded(rest, Path(folder)) if form == EMBEDDED else _scaled(rest, Path(folder))
            )
    return summarise(outcomes)


class Ended(KeyboardInterrupt):
    """We alone were told to end; a key on the keyboard would have told our children too."""


@contextmanager
def ended_like_by_hand() -> Iterator[None]:
    """A run that is told to end (a timeout, a cancelled job) stops its servers and leaves no folder behind."""

    def end(number: int, frame: FrameType | None) -> None:
        raise Ended

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


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


def narrowed(form: str, words: Sequence[str], extra: str = "") -> list[str]:
    """The words with the form's own selection of marks, and `extra`, joined to the caller's `-m`."""
    rest, theirs, words = [], "", list(words)
    while words:
        word = words.pop(0)
        if word == "-m" and words:
            theirs = words.pop(0)
        else:
            rest.append(word)
    marks = " and ".join(f"({part})" for part in (theirs, SELECTION[form], extra) if part)
    return ["-m", marks, *rest]


def processes(words: Sequence[str]) -> int:
    """How many processes share the tests."""
    if any(word.partition("=")[0] in IN_ONE_PROCESS or word in IN_ONE_PROCESS for word in words):
        return 1
    return max(1, min(layout.cores(), MOST_PROCESSES))


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
    own = folder / form
    own.mkdir()
    (own / "tmp").mkdir()
    env = {name: value for name, value in os.environ.items() if name not in SERVER_VARIABLES}
    env |= {"COACHHUB_VAR": str(own), "TMPDIR": str(own / "tmp"), "PYTHONUNBUFFERED": "1", **extra}
    env[MEASURED_VARIABLE] = str(folder / "measured")
    many = processes(words)
    if many == 1:
        say(f"\nTests with {TITLES[form]}")
        return _part(form, narrowed(form, words), own / "report.xml", env)
    say(f"\nTests with {TITLES[form]}, in {many} processes")
    spread = ["-n", str(many), "--dist=loadscope", "--no-loadscope-reorder"]
    together = _part(
        form,
        [*narrowed(form, words, f"not {ALONE}"), *spread],
        own / "report.xml",
        {**env, "PYTEST_PLUGINS": PARTING_PLUGIN},
    )
    say(f"\nMeasurements with {TITLES[form]}, one after another")
    return together + _part(form, narrowed(form, words, ALONE), own / "report-alone.xml", env)


def _part(form: str, words: Sequence[str], report: Path, env: Mapping[str, str]) -> Outcome:
    command = [sys.executable, "-m", "pytest", f"--junitxml={report}", *words]
    began = time.monotonic()
    with subprocess.Popen(command, cwd=layout.ROOT, env=dict(env)) as child:
        try:
            status = child.wait()
        except BaseException as error:
            _end(child, told=not isinstance(error, Ended))
            raise
    return read_report(form, report, status, time.monotonic() - began)


def _end(child: subprocess.Popen[bytes], *, told: bool) -> None:
    """It may still close its browser and its sites."""
    if not told:
        child.send_signal(signal.SIGINT)
    try:
        child.wait(GRACE_S)
    except subprocess.TimeoutExpired:
        child.kill()


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
