from __future__ import annotations

import os
import platform
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from analysis.adapters.sandbox import ChildError, Limits, protections, run_limited

pytestmark = pytest.mark.unit

MB = 1024 * 1024
AMPLE = Limits(cpu_s=20, memory_bytes=400 * MB, file_bytes=10 * MB, wall_s=20)
HERE = "tests.analysis.adapters.child_targets"
linux = pytest.mark.skipif(sys.platform != "linux", reason="only Linux gives this protection")


def run(name: str, *, limits: Limits = AMPLE, on_progress: Any = None, **kwargs: Any) -> Any:
    return run_limited(f"{HERE}:{name}", kwargs, limits=limits, on_progress=on_progress)


def failure(name: str, *, limits: Limits = AMPLE, **kwargs: Any) -> ChildError:
    with pytest.raises(ChildError) as caught:
        run(name, limits=limits, **kwargs)
    assert caught.value.sentence.endswith(".")
    return caught.value


def test_result_and_progress_come_back() -> None:
    heard: list[tuple[str, int]] = []
    assert run("add", a=1.5, b=2, on_progress=lambda *step: heard.append(step)) == 3.5
    assert heard == [("adding", 50)]


def test_a_refusal_keeps_its_code_and_sentence() -> None:
    refused = failure("refuse")
    assert (refused.kind, refused.code) == ("refused", "too_long")
    assert refused.sentence == "This clip is too long. Please trim it."


def test_a_mistake_of_ours_brings_its_traceback() -> None:
    failed = failure("mistake")
    assert (failed.kind, failed.code) == ("failed", "failed")
    assert "ZeroDivisionError" in failed.detail
    assert "ZeroDivisionError" not in failed.sentence


def test_an_unknown_function_is_our_mistake() -> None:
    assert failure("nothing_like_this").kind == "failed"
    with pytest.raises(ValueError, match=r"package\.module:function"):
        run_limited("no_colon", {}, limits=AMPLE)


@pytest.mark.parametrize("family", ["AF_INET", "AF_INET6"])
@linux
def test_the_network_is_out_of_reach(family: str) -> None:
    """The same call connects outside the sandbox, so that the refusal is the sandbox's."""
    from tests.analysis.adapters import child_targets

    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        assert child_targets.reach(lambda s, p: None, "AF_INET", port) == "connected"
        assert run("reach", family=family, port=port) == "EPERM"


@linux
def test_unix_sockets_stay_open_and_rings_are_closed() -> None:
    assert run("unix_pair") == "x"
    assert run("ring") == "EPERM"


@linux
def test_a_memory_bomb_is_stopped() -> None:
    stopped = failure("hoard")
    assert (stopped.kind, stopped.code) == ("limit", "out_of_memory")


@linux
def test_native_memory_is_limited_too() -> None:
    assert 0 < run("hoard_natively") < 400 * MB


def test_an_endless_loop_is_stopped_by_processor_time() -> None:
    stopped = failure("spin", limits=Limits(cpu_s=1, memory_bytes=400 * MB, file_bytes=MB, wall_s=60))
    # The clock on the wall would have another code.
    assert (stopped.kind, stopped.code) == ("limit", "out_of_cpu")


def test_waiting_for_ever_is_stopped_by_the_clock() -> None:
    stopped = failure("sleep", limits=Limits(cpu_s=5, memory_bytes=400 * MB, file_bytes=MB, wall_s=2))
    assert (stopped.kind, stopped.code) == ("limit", "out_of_time")


def test_a_file_without_end_is_stopped(tmp_path: Path) -> None:
    stopped = failure("fill", path=str(tmp_path / "big"))
    assert (stopped.kind, stopped.code) == ("limit", "file_too_large")
    assert (tmp_path / "big").stat().st_size <= 10 * MB


def test_a_crash_is_named() -> None:
    crashed = failure("crash")
    assert (crashed.kind, crashed.code) == ("crash", "crashed")
    assert "SIGSEGV" in crashed.detail
    assert failure("abort_for_memory").code == "out_of_memory"


def test_the_rest_goes_with_the_child(tmp_path: Path) -> None:
    note = tmp_path / "pid"
    failure(
        "leave_a_child",
        limits=Limits(cpu_s=5, memory_bytes=400 * MB, file_bytes=MB, wall_s=3),
        note=str(note),
    )
    assert gone(int(note.read_text()))


@linux
def test_the_child_dies_with_a_killed_worker(tmp_path: Path) -> None:
    note = tmp_path / "pid"
    code = (
        "from analysis.adapters.sandbox import Limits, run_limited;"
        f"run_limited('{HERE}:sleep', {{'note': {str(note)!r}}},"
        "limits=Limits(cpu_s=9, memory_bytes=1 << 30, file_bytes=1 << 20, wall_s=99))"
    )
    worker = subprocess.Popen([sys.executable, "-c", code], cwd=Path(__file__).parents[3])
    wait_for(lambda: note.exists() and note.read_text() != "")
    worker.send_signal(signal.SIGKILL)
    worker.wait()
    assert gone(int(note.read_text()))


def test_secrets_of_the_environment_stay_outside(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACHHUB_SECRET_KEY", "kept in the drawer")
    seen = run("variables")
    assert "COACHHUB_SECRET_KEY" not in seen
    assert "PYTHONPATH" in seen


def test_much_talk_does_not_block() -> None:
    heard: list[int] = []
    assert run("babble", on_progress=lambda stage, percent: heard.append(percent)) == "done"
    assert heard == list(range(100))


def test_what_progress_raises_ends_the_child(tmp_path: Path) -> None:
    class LeaseLost(Exception):
        pass

    def stop(stage: str, percent: int) -> None:
        raise LeaseLost

    with pytest.raises(LeaseLost):
        run("babble", on_progress=stop)


def test_several_at_once() -> None:
    results: list[float] = []
    threads = [threading.Thread(target=lambda k=k: results.append(run("add", a=k, b=0))) for k in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(results) == [0, 1, 2]


def test_limits_refuse_nonsense() -> None:
    with pytest.raises(ValueError, match="cpu_s must be above 0, got 0"):
        Limits(cpu_s=0, memory_bytes=1, file_bytes=1, wall_s=1)


def test_what_this_machine_cannot_give_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    if sys.platform == "linux" and platform.machine() in ("x86_64", "aarch64"):
        assert all(protections().values())
    monkeypatch.setattr(sys, "platform", "darwin")
    off = [name for name, on in protections().items() if not on]
    assert off == ["memory", "dies_with_parent", "no_network"]


def gone(pid: int) -> bool:
    return wait_for(lambda: not alive(pid))


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{pid}/stat")
    # A dead process whose new parent hasn't read its status yet is gone all the same.
    return not (state.exists() and state.read_text().rsplit(")", 1)[1].split()[0] == "Z")


def wait_for(condition: Any, seconds: float = 10.0) -> bool:
    until = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > until:
            return False
        time.sleep(0.02)
    return True
