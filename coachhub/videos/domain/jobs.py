"""Asking for media work on a clip, and finding the work that got lost."""

from __future__ import annotations

import time
from datetime import datetime

from django.conf import settings

from coachhub.common.domain import jobs
from coachhub.common.domain.later import after_commit
from coachhub.videos.enums import ClipWork
from coachhub.videos.models import Clip, ClipJob
from coachhub.videos.tasks import check, make_rendition

AFTER_MEASURING_S = 0.005
TASKS = {ClipWork.CHECK: check, ClipWork.RENDITION: make_rendition}


def request_work(clip: Clip, work: ClipWork, *, now: datetime) -> ClipJob:
    """Have ``work`` done on the clip, once. Safe to repeat."""
    job, is_new = ClipJob.objects.get_or_create(clip=clip, work=work, defaults={"queued_at": now})
    if is_new:
        after_commit(send, job)
    return job


def send(job: ClipJob) -> None:
    if job.work == ClipWork.RENDITION:
        # The broker of files sorts messages by the millisecond, and by chance within one. The measuring was sent just
        # before, people wait for it, and the one worker must not begin with the rendition.
        time.sleep(AFTER_MEASURING_S)
    TASKS[ClipWork(job.work)].delay(job.pk)


def requeue_lost_work(now: datetime) -> int:
    """Send again what a dead worker or a lost message left; returns how many."""
    ids = jobs.requeue_lost(
        ClipJob.objects.all(), now=now, most=settings.JOB_MAX_ATTEMPTS, silent_for=settings.JOB_LEASE
    )
    for job in ClipJob.objects.filter(pk__in=ids):
        send(job)
    return len(ids)
