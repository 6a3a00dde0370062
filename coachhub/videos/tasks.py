from __future__ import annotations

from datetime import datetime

from coachhub.celery import app


@app.task(name="videos.check")
def check(job_id: int) -> None:
    from django.utils import timezone

    from coachhub.videos.domain.intake import check_clip

    check_clip(job_id, clock=timezone.now)


@app.task(name="videos.make_rendition")
def make_rendition(job_id: int) -> None:
    from django.utils import timezone

    from coachhub.videos.domain.intake import render_clip

    render_clip(job_id, clock=timezone.now)


@app.task(name="videos.drop_expired_uploads")
def drop_expired_uploads() -> None:
    from django.utils import timezone

    from coachhub.videos.domain.uploads import drop_expired

    drop_expired(now=timezone.now())


@app.task(name="videos.apply_retention")
def apply_retention() -> None:
    from django.utils import timezone

    from coachhub.videos.domain.retention import drop_old_films

    drop_old_films(now=timezone.now())


def send_lost_work(now: datetime) -> int:
    """For the sweep: jobs whose worker or message died, and clips whose job gave up."""
    from coachhub.videos.domain.intake import settle_given_up
    from coachhub.videos.domain.jobs import requeue_lost_work
    from coachhub.videos.domain.uploads import finish_stuck

    return requeue_lost_work(now) + settle_given_up(now=now) + finish_stuck(now=now)
