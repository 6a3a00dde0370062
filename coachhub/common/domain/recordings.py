"""What workers do with every recording: fetch it, have the confined child work on it, keep what it made, or give up."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files import File
from django.core.files.storage import default_storage
from django.db import transaction

from analysis.adapters.sandbox import ChildError, Limits, run_limited
from coachhub.common.domain import jobs
from coachhub.common.models import JobRow

# Worth another try by itself: the machine was at fault, not the recording.
PASSING = frozenset({"disk_full", "failed", "crashed", "out_of_time"})

Clock = Callable[[], datetime]


def fetch(key: str, path: Path) -> Path:
    """A stored file on this machine's disk."""
    with default_storage.open(key) as stored, path.open("wb") as local:
        shutil.copyfileobj(stored, local)
    return path


def work_in_child(
    row: JobRow, function: str, arguments: dict[str, Any], *, limits: Limits, clock: Clock
) -> dict[str, Any]:
    """The child's answer; while it works the row's lease is kept alive."""

    def beat(stage: str, percent: int) -> None:
        jobs.beat(row, now=clock(), lease=settings.JOB_LEASE, stage=stage, percent=percent)

    answer: dict[str, Any] = run_limited(function, arguments, limits=limits, on_progress=beat)
    return answer


def keep_made(row: JobRow, made: Path, name: str, *, field: str, now: datetime, **facts: Any) -> None:
    """Store what was made under ``field`` and end the row; nothing is left if another worker owns it by now."""
    with made.open("rb") as file:
        key = default_storage.save(name, File(file))
    with transaction.atomic():
        done = jobs.finish(row, now=now)
        if done:
            type(row)._default_manager.filter(pk=row.pk).update(**{field: key}, **facts)
    if not done:
        default_storage.delete(key)


def give_up(row: JobRow, problem: ChildError, *, now: datetime, sentence: str) -> None:
    """Back into the queue where another try may help, else over with a sentence; the child's own goes first."""
    if problem.code in PASSING and row.attempts < settings.JOB_MAX_ATTEMPTS:
        jobs.put_back(row, now=now, code=problem.code)
        return
    said = problem.sentence if problem.kind == "refused" else sentence
    jobs.fail(row, now=now, code=problem.code, text=said)


def forget_files(keys: Iterable[str]) -> None:
    for key in filter(None, keys):
        default_storage.delete(key)
