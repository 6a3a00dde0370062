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


@app.task(name="swings.judge_anew")
def judge_anew(camp_id: int) -> None:
    from coachhub.camps.models import Camp
    from coachhub.swings.domain.banding import judge_camp_anew

    camp = Camp.objects.filter(pk=camp_id).first()
    if camp is not None:
        judge_camp_anew(camp)


def send_camps_behind(now: datetime) -> int:
    """For the sweep: camps whose bands changed while the message was lost or a result came in between."""
    from coachhub.swings.domain.banding import camps_behind

    ids = camps_behind()
    for camp_id in ids:
        judge_anew.delay(camp_id)
    return len(ids)
