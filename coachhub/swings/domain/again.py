"""Measuring what was measured before: after a new version, or after trouble."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from coachhub.common.enums import JobState
from coachhub.swings.domain.readouts import is_measured_by
from coachhub.swings.domain.runs import request_run, try_again
from coachhub.videos.domain.consents import may_be_measured
from coachhub.videos.enums import ClipState
from coachhub.videos.models import Clip


@dataclass
class Counts:
    asked: int = 0
    retried: int = 0
    current: int = 0
    gone: int = 0
    forbidden: int = 0


def measure_again(clips: QuerySet[Clip], *, now: datetime) -> Counts:
    """Ask for every judged clip of ``clips`` that the present version has not measured yet."""
    counts = Counts()
    counts.gone = clips.exclude(original_deleted_at=None).count()
    judged = clips.filter(original_deleted_at=None, state__in=(ClipState.USABLE, ClipState.PLAYABLE))
    for clip in judged.select_related("submission__student").order_by("pk"):
        if not may_be_measured(clip):
            counts.forbidden += 1
            continue
        run = request_run(clip, now=now)
        if run.job_state == JobState.FAILED:
            counts.retried += try_again(run, now=now)
        elif run.job_state == JobState.DONE and is_measured_by(clip, run):
            counts.current += 1
        else:
            counts.asked += 1
    return counts
