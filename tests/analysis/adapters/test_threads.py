"""A worker uses the cores it is given."""

from __future__ import annotations

import os
import sys
from typing import Any

import pytest

from analysis.adapters import threads
from analysis.adapters.sandbox import Limits, run_limited

MB = 1024**2
SEES = "tests.analysis.adapters.child_targets:threads_seen"
linux = pytest.mark.skipif(sys.platform != "linux", reason="only Linux binds a process to cores")


def seen(count: int) -> dict[str, Any]:
    limits = Limits(cpu_s=30, memory_bytes=1500 * MB, file_bytes=MB, wall_s=60, threads=count)
    found: dict[str, Any] = run_limited(SEES, {}, limits=limits)
    return found


@linux
@pytest.mark.parametrize("count", [1, 2])
def test_a_child_and_its_libraries_keep_to_the_threads_given(count: int) -> None:
    found = seen(count)
    assert found["cores"] == min(count, len(threads.cores()))
    assert found["picture_library"] == 1
    assert found["decoder"] == count
    assert found["variables"] == ["1"] * len(threads.VARIABLES)


@linux
def test_more_than_there_are_takes_all_that_are_allowed() -> None:
    assert seen(64)["cores"] == len(threads.cores())


def test_neighbouring_workers_get_different_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    bound: list[list[int]] = []
    monkeypatch.setattr(threads, "cores", lambda: list(range(8)))
    monkeypatch.setattr(os, "sched_setaffinity", lambda pid, cores: bound.append(list(cores)), raising=False)
    for worker in range(1000, 1005):
        threads.keep_to_cores(2, worker)
    assert bound == [[0, 1], [2, 3], [4, 5], [6, 7], [0, 1]]


def test_what_is_stated_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ANALYSIS_THREADS", "3")
    assert threads.given_threads() == 3
    monkeypatch.setenv("ANALYSIS_THREADS", "many")
    assert threads.given_threads() == len(threads.cores())


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match=r"count must be within 1\.\.64, got 0"):
        threads.state_threads(0)
    with pytest.raises(ValueError, match=r"threads must be within 1\.\.64, got 100"):
        Limits(cpu_s=1, memory_bytes=1, file_bytes=1, wall_s=1, threads=100)
