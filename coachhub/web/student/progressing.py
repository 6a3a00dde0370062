"""How far each clip has come, in the student's words; the same for the page and for the small JSON it asks for."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.db.models import Prefetch, QuerySet

from coachhub.accounts.models import User
from coachhub.common.enums import JobState
from coachhub.common.models import JobRow
from coachhub.videos.enums import ClipState, ClipWork, SubmissionState, UploadState, View
from coachhub.videos.models import Clip, ClipJob, Submission, Upload

# Checking a clip is the short part of the way, measuring the long one.
CHECK_SHARE = 20
QUEUED = "waits for its turn"
TONES = {ClipState.USABLE: "good", ClipState.REFUSED: "bad"}


@dataclass(frozen=True)
class ClipProgress:
    id: str
    name: str
    state: str
    tone: str
    words: str
    percent: int
    is_moving: bool
    problem: str
    warnings: tuple[str, ...]
    view: str
    poster: str

    def as_json(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in ("id", "state", "words", "percent", "is_moving")}


def with_progress(submissions: QuerySet[Submission]) -> QuerySet[Submission]:
    """Everything that ``progress_of`` looks at, in a fixed number of queries."""
    clips = Clip.objects.select_related("measurement__run").order_by("number")
    checks = ClipJob.objects.filter(work=ClipWork.CHECK)
    clips = clips.prefetch_related(Prefetch("jobs", queryset=checks, to_attr="checks"))
    return submissions.select_related("camp", "cohort", "review").prefetch_related(
        Prefetch("clips", queryset=clips)
    )


def progress_of(submission: Submission, user: User) -> list[ClipProgress]:
    return [clip_progress(clip, user) for clip in submission.clips.all()]


def clip_progress(clip: Clip, user: User) -> ClipProgress:
    words, percent = _how_far(clip)
    return ClipProgress(
        id=str(clip.public_id),
        name=f"Clip {clip.number}, {View(clip.view).label}",
        state=clip.state,
        tone=TONES.get(ClipState(clip.state), ""),
        words=words,
        percent=percent,
        is_moving=clip.state in (ClipState.RECEIVED, ClipState.PLAYABLE),
        problem=clip.refused_text if clip.state == ClipState.REFUSED else "",
        warnings=tuple(str(warning.get("sentence", "")) for warning in clip.warnings),
        view=clip.view,
        poster=poster_link(clip, user),
    )


def poster_link(clip: Clip, user: User) -> str:
    from coachhub.web.media.links import media_link

    return media_link("clip.poster", clip, user) if clip.poster_key else ""


def _how_far(clip: Clip) -> tuple[str, int]:
    if clip.state == ClipState.RECEIVED:
        check = next(iter(getattr(clip, "checks", [])), None)
        return f"Arrived; the check {_stage(check)}", _share(check, 0, CHECK_SHARE)
    if clip.state == ClipState.PLAYABLE:
        run = _run(clip)
        return f"It plays; the measuring {_stage(run)}", _share(run, CHECK_SHARE, 100)
    if clip.state == ClipState.USABLE:
        return "Usable", 100
    return "Can't be used", 100


def _run(clip: Clip) -> JobRow | None:
    try:
        return clip.measurement.run
    except ObjectDoesNotExist:
        return None


def _stage(job: JobRow | None) -> str:
    if job is None or job.job_state == JobState.WAITING:
        return QUEUED
    if job.job_state == JobState.RUNNING:
        return f"is running ({job.stage.replace('_', ' ')})" if job.stage else "is running"
    return "is done"


def _share(job: JobRow | None, low: int, high: int) -> int:
    return low + (high - low) * (job.percent if job else 0) // 100


def is_checking(clips: Iterable[ClipProgress]) -> bool:
    return any(clip.is_moving for clip in clips)


def failed_uploads(submission: Submission) -> list[str]:
    """Files that came in whole but became no clip of their own (sent twice, a seventh), each with the reason."""
    return list(
        Upload.objects.filter(submission=submission, state=UploadState.COMPLETE, clip=None)
        .exclude(refused_text="")
        .order_by("id")
        .values_list("refused_text", flat=True)[:10]
    )


def snapshot(submission: Submission, clips: list[ClipProgress], failed: list[str]) -> dict[str, Any]:
    """What changes on the page while one waits. A new ``version`` means: fetch the page itself again."""
    state = SubmissionState(submission.state)
    steps = [state, *failed, *(f"{clip.id}{clip.state}" for clip in clips)]
    return {
        "version": hashlib.sha256("|".join(steps).encode()).hexdigest()[:16],
        "is_moving": is_checking(clips) or state == SubmissionState.SENT,
        "clips": [clip.as_json() for clip in clips],
    }
