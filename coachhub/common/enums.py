from __future__ import annotations

from django.db.models import TextChoices


class JobState(TextChoices):
    WAITING = "waiting", "waiting"
    RUNNING = "running", "running"
    DONE = "done", "done"
    FAILED = "failed", "failed"


JOB_MOVES: dict[str, frozenset[str]] = {
    JobState.WAITING: frozenset({JobState.RUNNING, JobState.FAILED}),
    JobState.RUNNING: frozenset({JobState.WAITING, JobState.DONE, JobState.FAILED}),
    JobState.DONE: frozenset(),
    JobState.FAILED: frozenset({JobState.WAITING}),
}
