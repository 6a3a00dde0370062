"""What workers do with a clip before anybody looks at it: the check, then a form that plays everywhere."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from analysis.adapters.sandbox import ChildError, Limits, run_limited
from coachhub.common.domain import jobs
from coachhub.common.enums import JobState
from coachhub.videos.domain.clips import Facts, add_warning, mark_playable, refuse_clip
from coachhub.videos.domain.consents import may_be_measured
from coachhub.videos.domain.files import drop_files, keep_file, local_copy, new_key, work_folder
from coachhub.videos.enums import ClipState, ClipWork
from coachhub.videos.models import Clip, ClipJob

log = logging.getLogger(__name__)
Clock = Callable[[], datetime]

CHECK = "analysis.adapters.rendition:check_clip"
RENDITION = "analysis.adapters.rendition:render_to_dir"
MB = 1024**2
CHECK_LIMITS = Limits(cpu_s=60, memory_bytes=1500 * MB, file_bytes=1 * MB, wall_s=120)
# Steps back behind the measuring, which people wait for.
RENDITION_LIMITS = Limits(cpu_s=1800, memory_bytes=2000 * MB, file_bytes=1000 * MB, wall_s=1100, nice=10)
# These may pass by themselves; everything else would end in the same way again.
PASSING = frozenset({"crashed", "disk_full", "out_of_memory", "out_of_time", "failed"})
OUR_TROUBLE = frozenset({"disk_full", "failed", "gave_up"})
STRETCHED = 1.5

SOURCE_GONE = "The original clip is no longer stored. Please send it again."
NOT_RENDERED = (
    "This clip can't be played here yet: making it ready did not work. Send it again, or tell the organiser."
)
GAVE_UP = "The check of this clip stopped half-way several times on our side. Please send it again."


class LeaseLost(Exception):
    """Another worker owns the job now."""


def _claim(job_id: int, *, now: datetime) -> ClipJob | None:
    rows = ClipJob.objects.select_related("clip__submission__student")
    job = rows.filter(pk=job_id).first()
    # Without consent it waits as it is.
    if job is None or not may_be_measured(job.clip):
        return None
    return jobs.claim(rows, job_id, now=now, lease=settings.JOB_LEASE)


def check_clip(job_id: int, *, clock: Clock) -> bool:
    """Find out whether a received clip plays. False: somebody else does it, or it is done."""
    job = _claim(job_id, now=clock())
    if job is None:
        return False
    with work_folder(clock().timestamp()) as folder:
        try:
            found = _in_child(CHECK, job, folder, {}, CHECK_LIMITS, clock)
        except (ChildError, FileNotFoundError) as problem:
            _after_check(problem, job, now=clock())
        except LeaseLost:
            log.info("check %s: the lease was lost", job.pk)
        else:
            keep_check(job, found, now=clock())
    return True


def render_clip(job_id: int, *, clock: Clock) -> bool:
    """Make the rendition, the poster and the index. False: somebody else does it, or it is done."""
    job = _claim(job_id, now=clock())
    if job is None:
        return False
    with work_folder(clock().timestamp()) as folder:
        out = folder / "out"
        out.mkdir()
        try:
            more = {"out_dir": str(out)}
            found = _in_child(RENDITION, job, folder, more, RENDITION_LIMITS, clock)
        except (ChildError, FileNotFoundError) as problem:
            _after_rendition(problem, job, now=clock())
        except LeaseLost:
            log.info("rendition %s: the lease was lost", job.pk)
        else:
            keep_rendition(job, out, found, now=clock())
    return True


def _in_child(
    target: str, job: ClipJob, folder: Path, more: dict[str, str], limits: Limits, clock: Clock
) -> dict[str, Any]:
    def beat(stage: str, percent: int) -> None:
        # Raising here ends the child: somebody else owns the job now.
        if not jobs.beat(job, now=clock(), lease=settings.JOB_LEASE, stage=stage, percent=percent):
            raise LeaseLost

    with local_copy(job.clip.original_key, folder) as source:
        if not source.exists():
            raise FileNotFoundError(job.clip.original_key)
        found: dict[str, Any] = run_limited(
            target, {"path": str(source), **more}, limits=limits, on_progress=beat
        )
    return found


@transaction.atomic
def keep_check(job: ClipJob, found: dict[str, Any], *, now: datetime) -> None:
    """Hand in what the check found; dropped if the job is no longer this worker's."""
    if jobs.finish(job, now=now):
        mark_playable(job.clip, _facts(found), now=now, warnings=_warnings(found))


def _facts(found: dict[str, Any]) -> Facts:
    return Facts(
        duration_s=found["duration_s"],
        fps=found["nominal_fps"],
        frame_count=found["frame_count"],
        width=found["width"],
        height=found["height"],
        codec=found["codec"],
        has_audio=found["has_audio"],
    )


def _warnings(found: dict[str, Any]) -> list[dict[str, str]]:
    filmed_at = found.get("capture_fps")
    if not filmed_at or filmed_at < STRETCHED * found["nominal_fps"]:
        return []
    sentence = (
        f"The phone filmed at {filmed_at:.0f} frames a second and stretched the time: the clip plays slower than you "
        "swung. Send the original from the camera's own list, or film in the normal video mode at 60 or more."
    )
    return [{"code": "slow_motion_flattened", "sentence": sentence}]


@transaction.atomic
def _after_check(problem: ChildError | FileNotFoundError, job: ClipJob, *, now: datetime) -> None:
    code, text = _reason(problem, job)
    if code in PASSING and job.attempts < settings.JOB_MAX_ATTEMPTS:
        jobs.put_back(job, now=now, code=code)
    elif jobs.fail(job, now=now, code=code, text=text):
        refuse_clip(job.clip, code=code, text=text, now=now)


@transaction.atomic
def _after_rendition(problem: ChildError | FileNotFoundError, job: ClipJob, *, now: datetime) -> None:
    code, text = _reason(problem, job)
    if code in PASSING and job.attempts < settings.JOB_MAX_ATTEMPTS:
        jobs.put_back(job, now=now, code=code)
    elif jobs.fail(job, now=now, code=code, text=text):
        _judge_unrendered(job, code, text, now=now)


def _judge_unrendered(job: ClipJob, code: str, text: str, *, now: datetime) -> None:
    """A clip that proved broken is refused, unless it was measured in the meantime; our own trouble refuses nothing."""
    if code in OUR_TROUBLE or not refuse_clip(job.clip, code=code, text=text, now=now):
        add_warning(job.clip, code="not_rendered", sentence=NOT_RENDERED)


def _reason(problem: ChildError | FileNotFoundError, job: ClipJob) -> tuple[str, str]:
    if isinstance(problem, FileNotFoundError):
        return "source_gone", SOURCE_GONE
    log.warning("%s %s, attempt %s: %s %s", job.work, job.pk, job.attempts, problem.code, problem.detail)
    return problem.code, problem.sentence


def keep_rendition(job: ClipJob, out: Path, found: dict[str, Any], *, now: datetime) -> None:
    """Store rendition, poster and index; dropped if the job is no longer this worker's."""
    names = {"rendition_key": "rendition.mp4", "poster_key": "poster.jpg", "index_key": "index.json"}
    keys = {field: new_key("renditions", Path(name).suffix) for field, name in names.items()}
    try:
        for field, name in names.items():
            keep_file(out / name, keys[field])
        with transaction.atomic():
            kept = jobs.finish(job, now=now)
            if kept:
                Clip.objects.filter(pk=job.clip_id).update(frame_count=found["frame_count"], **keys)
    except BaseException:
        drop_files(list(keys.values()))
        raise
    if not kept:
        drop_files(list(keys.values()))


def settle_given_up(*, now: datetime) -> int:
    """Clips whose job was given up by the sweep get their answer too; returns how many."""
    left = ClipJob.objects.filter(job_state=JobState.FAILED).select_related("clip__submission")
    checks = left.filter(work=ClipWork.CHECK, clip__state=ClipState.RECEIVED)
    count = 0
    for job in checks:
        count += refuse_clip(job.clip, code="gave_up", text=GAVE_UP, now=now)
    return count
