"""Tests on several cores: each process has folders, database and queue of its own.

Loaded before the settings are read, so by `PYTEST_PLUGINS`; `manage.py test` sets it.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import pytest

NAME = "tests.workers"
# A browser test stands for itself and lasts seconds; other modules share what they measure, so they stay together.
SPLIT_UP = ("tests/e2e/",)
MODULE_AT_ONCE = ("test_pages_axe.py",)
# Those that take longest: begun last, one process would work at them while the others have nothing left.
FIRST = (
    "tests/ground/test_worker_killed.py",
    "tests/e2e/test_whole_way.py",
    "tests/e2e/test_pages_axe.py",
    "tests/coachhub/test_demo.py",
    "tests/analysis/test_clips.py",
    "tests/analysis/test_pipeline.py",
)


def worker_name() -> str:
    """``gw0``, ``gw1``, ..., or nothing when all tests run in one process."""
    return os.environ.get("PYTEST_XDIST_WORKER", "")


def worker_number() -> int:
    return int(worker_name().removeprefix("gw") or 0)


def queue_of(number: int, *, own_site: bool) -> int:
    """Redis counts its databases: one for the tests' process, one for the sites that its tests start."""
    return 2 * number + own_site


def with_path(url: str, path: str) -> str:
    return urlunsplit(urlsplit(url)._replace(path=path))


def scope(nodeid: str) -> str:
    """What stays together on one process."""
    module = nodeid.split("::", 1)[0]
    together = not module.startswith(SPLIT_UP) or module.endswith(MODULE_AT_ONCE)
    return module if together else nodeid


def turn(nodeid: str) -> int:
    """Sorts what is begun first to the front and leaves the rest as it was."""
    module = nodeid.split("::", 1)[0]
    return FIRST.index(module) if module in FIRST else len(FIRST)


def take_own_place() -> None:
    """Narrow what is shared to this worker's part. Nothing below it may do so once more."""
    os.environ.pop("PYTEST_PLUGINS", None)
    folder = Path(os.environ["COACHHUB_VAR"]) / worker_name()
    folder.mkdir(parents=True, exist_ok=True)
    shared = folder.parent / "static"
    shared.mkdir(exist_ok=True)
    static = folder / "static"
    if not static.is_symlink():
        static.symlink_to(shared)
    os.environ["COACHHUB_VAR"] = str(folder)
    if "BROKER_URL" in os.environ:
        number = queue_of(worker_number(), own_site=False)
        os.environ["BROKER_URL"] = with_path(os.environ["BROKER_URL"], f"/{number}")


if worker_name():
    take_own_place()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    if config.getvalue("dist") != "loadscope":
        return None
    from xdist.scheduler import LoadScopeScheduling

    class ByModule(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return scope(nodeid)

    return ByModule(config, log)
