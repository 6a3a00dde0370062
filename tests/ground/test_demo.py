"""The demo as a person starts it: real processes, on both forms."""

from __future__ import annotations

import os
import signal
import sys
import urllib.request

import pytest

from coachhub.bootstrap import layout, ports
from coachhub.bootstrap.children import Child
from coachhub.common.addresses import answers
from tests.processes import children_of, command_of, runs

pytestmark = pytest.mark.integration


@pytest.fixture
def demo(stack):
    port = ports.free_port()
    command = [sys.executable, "manage.py", "demo", "--empty", "--port", str(port)]
    child = stack.start(Child("demo", command, stack.logs / "demo.log", stack.env, cwd=layout.ROOT))
    stack.wait(lambda: "Ctrl-C stops it." in child.last_words(30), 90, "the demo says that it runs")
    return stack, child, port


def test_it_serves_survives_a_killed_part_and_stops_cleanly(demo):
    stack, child, port = demo
    address = f"http://127.0.0.1:{port}"
    assert f"runs at {address}" in child.last_words(30)
    with urllib.request.urlopen(f"{address}/account/sign-in/", timeout=10) as page:
        assert page.status == 200
        assert "text/html" in page.headers["Content-Type"]
    stack.wait(lambda: "ready." in (stack.logs / "worker.log").read_text(), 60, "the worker is ready")

    web = next(pid for pid in children_of(child.process.pid) if "gunicorn" in command_of(pid))
    os.killpg(web, signal.SIGKILL)
    stack.wait(lambda: "starting it again" in child.last_words(30), 30, "the supervisor notices")
    stack.wait(lambda: answers("127.0.0.1", port, "/healthz"), 60, "the site is back")

    family = children_of(child.process.pid)
    assert len(family) >= 4
    child.process.send_signal(signal.SIGINT)
    assert child.process.wait(30) == 0
    assert "Stopped." in child.last_words()
    stack.wait(lambda: not [pid for pid in family if runs(pid)], 10, "nothing is left behind")


def test_when_the_supervisor_is_killed_nothing_stays(demo):
    stack, child, port = demo
    family = children_of(child.process.pid)
    child.process.kill()
    child.process.wait()
    if sys.platform == "linux":
        stack.wait(lambda: not [pid for pid in family if runs(pid)], 30, "its children end too")
    assert not answers("127.0.0.1", port, "/healthz")
