"""Processes side by side share nothing that they write."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from coachhub.bootstrap import layout
from tests import workers

pytestmark = pytest.mark.unit

# Each test says where it ran: which folders, and which queue.
SAMPLE = """
import pytest
from django.conf import settings


@pytest.mark.unit
@pytest.mark.parametrize("number", range(3))
def test_place(number, worker_id):
    place = (worker_id, settings.VAR_DIR, settings.CELERY_BROKER_URL, settings.STATIC_ROOT.resolve())
    with open({out!r}, "a") as out:
        print(*place, file=out)
"""


def run(folder: Path, plugin: str) -> subprocess.CompletedProcess[str]:
    env = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    env |= {"COACHHUB_VAR": str(folder / "var"), "BROKER_URL": "redis://:x@127.0.0.1:1/0"}
    env["PYTEST_PLUGINS"] = ",".join(filter(None, (plugin, "tests.conftest")))
    words = ["-q", "-n2", "--dist=loadscope", f"--rootdir={layout.ROOT}", "-c"]
    command = [sys.executable, "-m", "pytest", *words, str(layout.ROOT / "pyproject.toml"), str(folder)]
    return subprocess.run(command, cwd=layout.ROOT, env=env, capture_output=True, text=True)


def test_each_process_has_folders_and_a_queue_of_its_own(tmp_path: Path) -> None:
    out = tmp_path / "places.txt"
    for name in ("one", "two"):
        (tmp_path / f"test_{name}.py").write_text(SAMPLE.format(out=str(out)))
    done = run(tmp_path, workers.NAME)
    assert done.returncode == 0, done.stdout + done.stderr
    lines = out.read_text().splitlines()
    places = {line.split()[0]: tuple(line.split()[1:]) for line in lines}
    var = tmp_path / "var"
    assert len(lines) == 6 and len(set(lines)) == 2  # a module stays on its process
    assert places == {
        f"gw{n}": (str(var / f"gw{n}"), f"redis://:x@127.0.0.1:1/{2 * n}", str(var / "static"))
        for n in (0, 1)
    }


def test_without_places_of_their_own_they_are_refused(tmp_path: Path) -> None:
    (tmp_path / "test_one.py").write_text(SAMPLE.format(out=str(tmp_path / "out")))
    done = run(tmp_path, "")
    assert done.returncode != 0
    assert "folders of their own" in done.stdout + done.stderr
    assert not (tmp_path / "out").exists()


def test_no_two_queues_are_one() -> None:
    used = [workers.queue_of(n, own_site=own) for n in range(6) for own in (False, True)]
    assert sorted(used) == list(range(12))  # Redis has sixteen unless told otherwise


@pytest.mark.parametrize(
    "nodeid, together",
    [
        ("tests/analysis/test_clips.py::test_shaft[fo_none]", "tests/analysis/test_clips.py"),
        ("tests/e2e/test_queue.py::test_keys", "tests/e2e/test_queue.py::test_keys"),
        ("tests/e2e/test_pages_axe.py::test_page[x]", "tests/e2e/test_pages_axe.py"),
    ],
)
def test_modules_stay_together_and_browser_tests_are_spread(nodeid: str, together: str) -> None:
    assert workers.scope(nodeid) == together


def test_the_longest_are_begun_first_and_the_rest_stays_in_order() -> None:
    some = ["tests/a.py::b", "tests/a.py::a", "tests/e2e/test_whole_way.py::x"]
    assert sorted(some, key=workers.turn) == [some[2], some[0], some[1]]
    assert [name for name in workers.FIRST if not (layout.ROOT / name).exists()] == []
