"""From any interpreter into one that has the libraries."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import NoReturn

from coachhub.bootstrap import bare, debian, environment, layout, pins
from coachhub.bootstrap.failures import SetupError

SWITCH = "COACHHUB_BOOTSTRAP"
MARK = "COACHHUB_ENTERED"
TEST_COMMANDS = {"test", "check_all"}
SYSTEM_NEEDS = {
    "demo": debian.RUN_NEEDS,
    "test": (*debian.RUN_NEEDS, *debian.TEST_NEEDS),
}


def list_for(command: str) -> Path:
    return pins.TEST if command in TEST_COMMANDS else pins.RUN


def enter(argv: list[str]) -> None:
    """Return in an interpreter that has the libraries; until then set up and start over in it."""
    if layout.switched_off(SWITCH):
        return
    command = argv[1] if len(argv) > 1 else "help"
    try:
        _enter(command, list_for(command), argv)
    except SetupError as error:
        sys.exit(f"\n{error}")
    except KeyboardInterrupt:
        sys.exit("\nStopped. Run the same command again to go on where it was.")


def _enter(command: str, wanted: Path, argv: list[str]) -> None:
    if _inside(wanted):
        if os.environ.get(MARK) != _mark(wanted):
            debian.provide(SYSTEM_NEEDS.get(command, ()))
        return
    if os.environ.get(MARK) == _mark(wanted):
        raise SetupError(
            "The environment in .venv looks complete but its libraries can't be found.",
            "delete the folder .venv and run the same command again.",
        )
    if command == "doctor" and not environment.ready(wanted):
        sys.exit(bare.report())
    environment.ensure(wanted)
    debian.provide(SYSTEM_NEEDS.get(command, ()))
    _start_over(wanted, argv)


def _inside(wanted: Path) -> bool:
    """Whether this interpreter has the list: the stamped `.venv`, or any other that holds the same versions."""
    if Path(sys.prefix).resolve() == layout.VENV.resolve() and environment.ready(wanted):
        return True
    return not pins.lacking(wanted)


def _mark(wanted: Path) -> str:
    """Known again after starting over, which keeps the process number; children don't take it for theirs."""
    return f"{os.getpid()}:{pins.digest(wanted)}"


def _start_over(wanted: Path, argv: list[str]) -> NoReturn:
    os.environ[MARK] = _mark(wanted)
    python = str(environment.interpreter())
    sys.stdout.flush()
    sys.stderr.flush()
    os.execv(python, [python, *argv])
