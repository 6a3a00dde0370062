"""Child processes: watched, started again, and never left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

from coachhub.bootstrap import debian, layout, ports
from coachhub.bootstrap.children import MOST_QUICK_DEATHS, Child, revive
from coachhub.bootstrap.failures import SetupError
from coachhub.bootstrap.servers import Servers

pytestmark = pytest.mark.unit
SLEEPER = [sys.executable, "-c", "import time; print('up', flush=True); time.sleep(60)"]
DEAF = [
    sys.executable,
    "-c",
    "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('up', flush=True); time.sleep(60)",
]


def until(happened, limit_s=15.0):
    deadline = time.monotonic() + limit_s
    while not happened():
        assert time.monotonic() < deadline
        time.sleep(0.05)


def test_a_killed_child_is_started_again(tmp_path):
    child, said = Child("sleeper", SLEEPER, tmp_path / "log"), []
    child.start()
    try:
        first = child.process.pid
        os.kill(first, signal.SIGKILL)
        until(lambda: not child.alive())
        revive(child, said.append)
        assert child.alive()
        assert child.process.pid != first
        assert said == ["The sleeper ended (status -9); starting it again."]
    finally:
        child.stop()


def test_a_child_that_keeps_dying_stops_the_start_with_its_last_words(tmp_path):
    child = Child(
        "broken", [sys.executable, "-c", "print('the reason'); raise SystemExit(3)"], tmp_path / "log"
    )
    child.start()
    for _ in range(MOST_QUICK_DEATHS - 1):
        child.process.wait()
        revive(child, lambda text: None)
    child.process.wait()
    with pytest.raises(SetupError, match="the reason"):
        revive(child, lambda text: None)


def test_a_deaf_child_is_killed_after_its_grace(tmp_path):
    child = Child("deaf", DEAF, tmp_path / "log")
    child.start()
    until(lambda: "up" in child.last_words())
    began = time.monotonic()
    child.stop(grace_s=0.5)
    assert not child.alive()
    assert time.monotonic() - began < 60  # it would sleep for ever


@pytest.mark.skipif(sys.platform != "linux", reason="parent-death signals are Linux's")
def test_servers_go_when_their_parent_is_killed():
    code = (
        "import json, time\nfrom coachhub.bootstrap.servers import Servers\n"
        "with Servers() as servers:\n    print(json.dumps(servers.urls), flush=True)\n    time.sleep(60)"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", code], cwd=layout.ROOT, stdout=subprocess.PIPE, text=True
    )
    urls = parent.stdout.readline()
    found = [int(part.split("/")[0]) for part in urls.split("127.0.0.1:")[1:]]
    assert len(found) == sum(debian.find_program(name) is not None for name in ("postgres", "redis-server"))
    parent.kill()
    parent.wait()
    parent.stdout.close()
    until(lambda: not any(ports.answers("127.0.0.1", port) for port in found))


def test_servers_leave_no_folder_behind():
    with Servers() as servers:
        folder = servers.folder
        assert folder.exists()
    assert not folder.exists()
    assert not any(child.alive() for child in servers.children)
