from __future__ import annotations

from coachhub.celery import app


@app.task(name="common.requeue_lost_work")
def requeue_lost_work() -> None:
    # Imported here: the sweep is the one place that knows every kind of job, apps to the right included.
    from django.utils import timezone

    from coachhub.common.sweep import sweep

    sweep(now=timezone.now())
