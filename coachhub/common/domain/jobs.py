"""Claim, keep, finish and requeue job rows. Every step is one conditional UPDATE on the lease."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import TypeVar

from django.db.models import F, Q, QuerySet

from coachhub.common.enums import JobState
from coachhub.common.models import JobRow

Row = TypeVar("Row", bound=JobRow)


def claim(rows: QuerySet[Row], pk: int, *, now: datetime, lease: timedelta) -> Row | None:
    """Take the waiting row ``pk`` for this worker, or return None: somebody else has it or it is over."""
    token = uuid.uuid4()
    hit = rows.filter(pk=pk, job_state=JobState.WAITING).update(
        job_state=JobState.RUNNING,
        attempts=F("attempts") + 1,
        lease_token=token,
        lease_until=now + lease,
        started_at=now,
        stage="",
        percent=0,
        error_code="",
        error_text="",
    )
    return rows.get(pk=pk) if hit else None


def _held(row: JobRow) -> QuerySet[JobRow]:
    model = type(row)
    return model._default_manager.filter(pk=row.pk, lease_token=row.lease_token, job_state=JobState.RUNNING)


def beat(row: JobRow, *, now: datetime, lease: timedelta, stage: str, percent: int) -> bool:
    """Say "still alive" and show progress; False: the lease was lost and the work must stop."""
    return bool(
        _held(row).update(lease_until=now + lease, stage=stage[:60], percent=max(0, min(100, percent)))
    )


def finish(row: JobRow, *, now: datetime) -> bool:
    """End the row as done; False: another worker owns it now and this result must be dropped."""
    return bool(_held(row).update(job_state=JobState.DONE, finished_at=now, percent=100, lease_until=None))


def fail(row: JobRow, *, now: datetime, code: str, text: str) -> bool:
    return bool(
        _held(row).update(
            job_state=JobState.FAILED,
            finished_at=now,
            lease_until=None,
            error_code=code[:60],
            error_text=text,
        )
    )


def put_back(row: JobRow, *, now: datetime, code: str) -> bool:
    """Give the row back after a passing trouble; the attempt counts."""
    return bool(
        _held(row).update(job_state=JobState.WAITING, queued_at=now, lease_until=None, error_code=code[:60])
    )


def requeue_lost(rows: QuerySet[Row], *, now: datetime, most: int, silent_for: timedelta) -> list[int]:
    """Ids to send again: running rows whose lease ran out, and waiting rows whose message got lost.

    A row that was tried ``most`` times fails with a readable reason instead of circling for ever.
    """
    lost = rows.filter(job_state=JobState.RUNNING, lease_until__lt=now)
    lost.filter(attempts__gte=most).update(
        job_state=JobState.FAILED,
        finished_at=now,
        lease_until=None,
        error_code="gave_up",
        error_text="The work stopped half-way several times. Ask the organiser to try again.",
    )
    lost.filter(attempts__lt=most).update(job_state=JobState.WAITING, queued_at=now, lease_until=None)
    stale = Q(queued_at__lte=now - silent_for) | Q(queued_at=now)
    ids = list(rows.filter(stale, job_state=JobState.WAITING).values_list("pk", flat=True)[:500])
    rows.filter(pk__in=ids).update(queued_at=now)
    return ids
