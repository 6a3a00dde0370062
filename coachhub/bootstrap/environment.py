"""The project's own Python environment in `.venv`: made once, filled from a pinned list, stamped."""

from __future__ import annotations

import fcntl
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from coachhub.bootstrap import debian, failures, layout, pins
from coachhub.bootstrap.progress import run_showing, say

NEEDED_FREE_BYTES = 2_000_000_000
STRICT = ("--no-deps", "--require-hashes", "--only-binary", ":all:")


def interpreter() -> Path:
    return layout.VENV / "bin" / "python"


def stamp_path() -> Path:
    return layout.VENV / "coachhub-stamp.json"


def stamps() -> dict[str, str]:
    try:
        content = json.loads(stamp_path().read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return content if isinstance(content, dict) else {}


def ready(wanted: Path) -> bool:
    """Whether `.venv` was filled from exactly this list."""
    return interpreter().exists() and stamps().get(wanted.name) == pins.digest(wanted)


def ensure(wanted: Path) -> None:
    """Make `.venv` hold the list. Two starts at once wait for each other."""
    if ready(wanted):
        return
    with _only_one():
        if ready(wanted):
            return
        _check_room()
        _make()
        _fill(wanted)
        _stamp(wanted)


@contextmanager
def _only_one() -> Iterator[None]:
    lock = layout.setup_log().with_name("setup.lock")
    try:
        lock.parent.mkdir(parents=True, exist_ok=True)
        handle = lock.open("w")
    except OSError as error:
        raise failures.explain(str(error), "Preparing the project's folder", str(lock.parent)) from error
    with handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def _check_room() -> None:
    if shutil.disk_usage(layout.ROOT).free < NEEDED_FREE_BYTES and not layout.VENV.exists():
        raise failures.disk_full("Setting up")


def _make() -> None:
    if interpreter().exists() and _runs(interpreter()):
        return
    if not _has_venv_module():
        debian.install_venv_module()
    label = f"Making an environment for Python {sys.version_info.major}.{sys.version_info.minor} in .venv"
    status, output = run_showing(
        label, [sys.executable, "-m", "venv", "--clear", str(layout.VENV)], layout.setup_log()
    )
    if status:
        raise failures.explain(output, "Making the environment", str(layout.setup_log()))


def _runs(python: Path) -> bool:
    probe = "import sys, pip; sys.exit(sys.version_info < (3, 11))"
    return subprocess.run([str(python), "-c", probe], capture_output=True, check=False).returncode == 0


def _has_venv_module() -> bool:
    probe = "import venv, ensurepip"
    return subprocess.run([sys.executable, "-c", probe], capture_output=True, check=False).returncode == 0


def _fill(wanted: Path) -> None:
    count = len(pins.pins(wanted))
    label = f"Installing {count} pinned libraries (about a minute)"
    quick = _quick_installer()
    if quick is not None:
        # Each clip is measured in a process of its own: unless compiled here, libraries would be compiled in each.
        command = [
            str(quick),
            "pip",
            "install",
            "--python",
            str(interpreter()),
            "--compile-bytecode",
            *STRICT,
        ]
        command += ["-r", str(wanted)]
        status, output = run_showing(label, command, layout.setup_log())
        if status == 0:
            return
        _stop_if_hopeless(output, label)
        say("The quick installer did not manage; trying again with pip, which takes longer.")
    status, output = run_showing(label, [*_pip(), *STRICT, "-r", str(wanted)], layout.setup_log())
    if status:
        raise failures.explain(output, "Installing the libraries", str(layout.setup_log()))


def _stop_if_hopeless(output: str, label: str) -> None:
    """A full disk or an altered file is no reason to try another installer."""
    text = output.lower()
    if any(mark in text for mark in (*failures.DISK_MARKS, *failures.HASH_MARKS)):
        raise failures.explain(output, label, str(layout.setup_log()))


def _quick_installer() -> Path | None:
    program = layout.VENV / "bin" / "uv"
    version = pins.pins(pins.INSTALLER)["uv"]
    if program.exists() and version in _version_of(program):
        return program
    command = [*_pip(), *STRICT, "-r", str(pins.INSTALLER)]
    status, output = run_showing("Fetching the installer", command, layout.setup_log())
    if status:
        _stop_if_hopeless(output, "Fetching the installer")
    return program if program.exists() else None


def _version_of(program: Path) -> str:
    return subprocess.run([str(program), "--version"], capture_output=True, text=True, check=False).stdout


def _pip() -> list[str]:
    quiet = ("--disable-pip-version-check", "--no-input", "--retries", "2")
    return [str(interpreter()), "-m", "pip", "install", *quiet]


def _stamp(wanted: Path) -> None:
    """Written last and in one move, so that a broken-off installation is never taken for a whole one."""
    made = {wanted.name: pins.digest(wanted)}
    if wanted == pins.TEST:
        made[pins.RUN.name] = pins.digest(pins.RUN)
    part = stamp_path().with_suffix(".part")
    part.write_text(json.dumps(made), "utf-8")
    os.replace(part, stamp_path())
