from __future__ import annotations

from datetime import datetime

from coachhub.celery import app


@app.task(name="progress.pack_takeaway")
def pack_takeaway(takeaway_id: int) -> None:
    from django.utils import timezone

    from coachhub.progress.domain.takeaway import pack

    pack(takeaway_id, clock=timezone.now)


def send_lost_takeaways(now: datetime) -> int:
    """For the sweep: files that a dead worker left half made; and those whose days are over go."""
    from coachhub.progress.domain.takeaway import drop_expired, requeue_lost_takeaways

    drop_expired(now=now)
    return requeue_lost_takeaways(now)
