"""Asking for a clip to be measured. What makes a result is its key; the same key is measured once."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import transaction

from analysis.version import ANALYSIS_VERSION, model_digest
from coachhub.accounts.domain.consent import refuse_unless_allowed
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import Intake
from coachhub.common.domain import jobs
from coachhub.common.domain.later import after_commit
from coachhub.common.enums import JobState
from coachhub.swings.domain.results import run_failed, store_result
from coachhub.swings.models import AnalysisRun, Measurement
from coachhub.swings.tasks import measure
from coachhub.videos.enums import ClipState
from coachhub.videos.models import Clip, Reference

__all__ = ["lost_runs", "parameters_for", "request_run", "run_failed", "store_result", "try_again"]


def parameters_for(clip: Clip) -> dict[str, Any]:
    """What was said about the film that the measuring needs: part of the key, and the child's options."""
    return {
        "declared_view": clip.view,
        "declared_hand": declared_hand(clip),
        "club_class": clip.club_class or None,
    }


def declared_hand(clip: Clip) -> str | None:
    if isinstance(clip.home, Reference):
        return clip.home.handedness
    intake = Intake.objects.filter(user_id=clip.home.student_id).first()
    return intake.handedness if intake else None


def _digest(parameters: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(parameters, sort_keys=True).encode()).hexdigest()


@transaction.atomic
def request_run(clip: Clip, *, now: datetime) -> AnalysisRun:
    """Have the clip measured by the present version; a result that exists already is taken over.

    Safe to repeat. Clips of equal content, measured in the same way, share one run. Nothing is measured of somebody
    who does not agree to it now.
    """
    if clip.submission is not None:
        refuse_unless_allowed(clip.submission.student, Purpose.ANALYSIS)
    parameters = parameters_for(clip)
    run, _ = AnalysisRun.objects.get_or_create(
        clip_digest=clip.sha256,
        code_version=ANALYSIS_VERSION,
        model_digest=model_digest(),
        parameters_digest=_digest(parameters),
        defaults={"parameters": parameters, "source_key": clip.original_key, "queued_at": now},
    )
    Measurement.objects.update_or_create(clip=clip, defaults={"run": run})
    # A run that ended before this clip came: the task only carries its result over.
    after_commit(measure.delay, run.pk)
    return run


@transaction.atomic
def try_again(run: AnalysisRun, *, now: datetime) -> bool:
    """Give a failed run another set of attempts. False: it did not fail."""
    hit = AnalysisRun.objects.filter(pk=run.pk, job_state=JobState.FAILED).update(
        job_state=JobState.WAITING, attempts=0, queued_at=now, finished_at=None, error_code="", error_text=""
    )
    if hit:
        after_commit(measure.delay, run.pk)
    return bool(hit)


def lost_runs(now: datetime) -> list[int]:
    """Runs to send again: silent or forgotten ones, and ended ones whose result did not reach every clip."""
    again = jobs.requeue_lost(
        AnalysisRun.objects.all(),
        now=now,
        most=settings.JOB_MAX_ATTEMPTS,
        silent_for=2 * settings.JOB_LEASE,
    )
    ended = Measurement.objects.filter(
        clip__state=ClipState.PLAYABLE, run__job_state__in=(JobState.DONE, JobState.FAILED)
    )
    return again + list(ended.values_list("run_id", flat=True).distinct()[:200])
