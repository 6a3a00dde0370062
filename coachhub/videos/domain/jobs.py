"""Asking for media work on a clip, and finding the work that got lost."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings

from coachhub.common.domain import jobs
from coachhub.common.domain.later import after_commit
from coachhub.videos.enums import ClipWork
from coachhub.videos.models import Clip, ClipJob
from coachhub.videos.tasks import check, make_rendition

TASKS = {ClipWork.CHECK: check, ClipWork.RENDITION: make_rendition}


def request_work(clip: Clip, work: ClipWork, *, now: datetime) -> ClipJob:
    """Have ``work`` done on the clip, once. Safe to repeat."""
    job, is_new = ClipJob.objects.get_or_create(clip=clip, work=work, defaults={"queued_at": now})
    if is_new:
        after_commit(send, job)
    return job


def send(job: ClipJob) -> None:
    TASKS[ClipWork(job.work)].delay(job.pk)


def requeue_lost_work(now: datetime) -> int:
    """Send again what a dead worker or a lost message left; returns how many."""
    ids = jobs.requeue_lost(
        ClipJob.objects.all(), now=now, most=settings.JOB_MAX_ATTEMPTS, silent_for=settings.JOB_LEASE
    )
    for job in ClipJob.objects.filter(pk__in=ids):
        send(job)
    return len(ids)
