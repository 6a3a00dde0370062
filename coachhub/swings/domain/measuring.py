"""One attempt at one run: claim it, measure in a limited child, store what came of it."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db.models import Q

from analysis.adapters.sandbox import ChildError, Limits, run_limited
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import StandingConsent
from coachhub.common.domain import jobs
from coachhub.swings.domain.files import first_existing
from coachhub.swings.domain.results import LeaseLost, catch_up, run_failed, store_result
from coachhub.swings.models import AnalysisRun
from coachhub.videos.domain.files import local_copy, work_folder
from coachhub.videos.models import Clip

log = logging.getLogger(__name__)
Clock = Callable[[], datetime]

TARGET = "analysis.pipeline:analyse_to_dir"
MEMORY_BYTES = 3 * 1024**3
RESULT_BYTES = 256 * 1024**2
# These may pass by themselves; everything else would end in the same way again.
PASSING = frozenset({"crashed", "disk_full", "out_of_memory"})
SOURCE_GONE = "The original clip is no longer stored, so it can't be measured."


def measure_run(run_id: int, *, clock: Clock) -> None:
    """Measure the run if it waits; if it ended before, carry its result over to clips that came later."""
    if not _is_wanted(run_id):
        # It waits as it is: whoever agrees later has it measured then.
        return
    run = jobs.claim(AnalysisRun.objects.all(), run_id, now=clock(), lease=settings.JOB_LEASE)
    if run is None:
        catch_up(run_id, now=clock())
        return
    with work_folder(clock().timestamp()) as folder:
        try:
            _attempt(run, folder, clock)
        except LeaseLost:
            log.info("run %s: the lease was lost, this attempt is dropped", run.pk)
        except ChildError as error:
            _after(error, run, clock())


def _is_wanted(run_id: int) -> bool:
    """Whether anybody whose clip it is agrees to measuring; a coach's own film needs nobody's leave here."""
    clips = Clip.objects.filter(measurement__run_id=run_id)
    agreeing = StandingConsent.objects.people(Purpose.ANALYSIS)
    return (
        not clips.exists()
        or clips.filter(Q(submission=None) | Q(submission__student_id__in=agreeing)).exists()
    )


def _attempt(run: AnalysisRun, folder: Path, clock: Clock) -> None:
    key = first_existing(_source_keys(run))
    if key is None:
        run_failed(run, code="source_gone", text=SOURCE_GONE, now=clock())
        return
    out = folder / "result"
    out.mkdir()
    with local_copy(key, folder) as source:
        run_limited(
            TARGET,
            {"path": str(source), "out_dir": str(out), "options": run.parameters},
            limits=limits(),
            on_progress=_beating(run, clock),
        )
    store_result(run, out, now=clock())


def _source_keys(run: AnalysisRun) -> list[str]:
    clips = Clip.objects.filter(measurement__run=run, original_deleted_at=None)
    return [run.source_key, *clips.values_list("original_key", flat=True)]


def limits() -> Limits:
    wall_s = settings.ANALYSIS_WALL_SECONDS
    return Limits(
        cpu_s=wall_s * (settings.ANALYSIS_THREADS + 2),
        memory_bytes=MEMORY_BYTES,
        file_bytes=RESULT_BYTES,
        wall_s=wall_s,
        threads=settings.ANALYSIS_THREADS,
    )


def _beating(run: AnalysisRun, clock: Clock) -> Callable[[str, int], None]:
    def beat(stage: str, percent: int) -> None:
        # Raising here ends the child: somebody else owns the run now, or the consent was withdrawn.
        wanted = _is_wanted(run.pk)
        if not wanted or not jobs.beat(
            run, now=clock(), lease=settings.JOB_LEASE, stage=stage, percent=percent
        ):
            raise LeaseLost

    return beat


def _after(error: ChildError, run: AnalysisRun, now: datetime) -> None:
    log.warning("run %s, attempt %s: %s %s", run.pk, run.attempts, error.code, error.detail)
    if error.code in PASSING and run.attempts < settings.JOB_MAX_ATTEMPTS:
        jobs.put_back(run, now=now, code=error.code)
        return
    run_failed(run, code=error.code, text=error.sentence, now=now)
