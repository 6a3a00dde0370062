from __future__ import annotations

from datetime import datetime

from coachhub.celery import app


@app.task(name="swings.measure")
def measure(run_id: int) -> None:
    from django.utils import timezone

    from coachhub.swings.domain.measuring import measure_run

    measure_run(run_id, clock=timezone.now)


def send_lost_runs(now: datetime) -> int:
    """For the sweep: runs whose worker or whose message died."""
    from coachhub.swings.domain.runs import lost_runs

    ids = lost_runs(now)
    for run_id in ids:
        measure.delay(run_id)
    return len(ids)
