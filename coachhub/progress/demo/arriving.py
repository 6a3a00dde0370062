"""A clip of the story on its way in: opened by the same limited children as everybody's, judged at the story's time.

The children run before anything is written: measuring takes seconds, and a visitor must not wait for the database.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils import timezone

from analysis.adapters.sandbox import run_limited
from coachhub.common.domain import jobs
from coachhub.progress.demo import emptyrange
from coachhub.progress.demo.scenario import Data, Student
from coachhub.swings.domain import measuring
from coachhub.swings.domain.results import catch_up, store_result
from coachhub.swings.models import AnalysisRun
from coachhub.videos.domain import intake
from coachhub.videos.domain.clips import add_clip
from coachhub.videos.domain.files import work_folder
from coachhub.videos.enums import ClipWork, View
from coachhub.videos.models import Clip, ClipJob, Submission

DRAWN = "empty_range"


@contextmanager
def source(name: str, clips: Path) -> Iterator[Path]:
    """The file of a clip; the one with nobody in it is drawn on the spot."""
    if name != DRAWN:
        yield clips / f"{name}.mp4"
        return
    with tempfile.TemporaryDirectory(prefix="demo-") as folder:
        yield emptyrange.make(Path(folder) / f"{DRAWN}.mp4")


@dataclass(frozen=True)
class Arrival:
    """A file with all that the limited children found out about it."""

    path: Path
    view: str
    parameters: dict[str, Any]
    found: dict[str, Any]
    rendered: dict[str, Any]
    rendition: Path
    result: Path


@contextmanager
def measured(path: Path, step: Data, student: Student) -> Iterator[Arrival]:
    """Check, make playable and measure; the results live as long as the context."""
    parameters = {
        "declared_view": view_of(step),
        "declared_hand": student.person["intake"]["handedness"],
        "club_class": step["club_class"],
    }
    with work_folder(timezone.now().timestamp()) as folder:
        rendition, result = folder / "out", folder / "result"
        rendition.mkdir()
        result.mkdir()
        place = {"path": str(path)}
        found = run_limited(intake.CHECK, place, limits=intake.CHECK_LIMITS)
        rendered = run_limited(
            intake.RENDITION, {**place, "out_dir": str(rendition)}, limits=intake.RENDITION_LIMITS
        )
        run_limited(
            measuring.TARGET,
            {**place, "out_dir": str(result), "options": parameters},
            limits=measuring.limits(),
        )
        yield Arrival(path, view_of(step), parameters, found, rendered, rendition, result)


def view_of(step: Data) -> str:
    return str(step.get("view", View.FACE_ON))


def upload(path: Path, submission: Submission, *, view: str, now: datetime) -> Clip:
    """Received and no more: a worker does the rest."""
    content = path.read_bytes()
    return add_clip(
        submission,
        view=view,
        source_path=path,
        size=len(content),
        sha256=hashlib.sha256(content).hexdigest(),
        file_name=path.name,
        by=submission.student,
        now=now,
    )


def settle(arrival: Arrival, clip: Clip, *, now: datetime) -> None:
    """Hand in what the children found, as their worker would have at that time. Inside one transaction only:
    the rows are claimed and ended before any worker can see them."""
    intake.keep_check(_claimed(clip, ClipWork.CHECK, now), arrival.found, now=now)
    intake.keep_rendition(
        _claimed(clip, ClipWork.RENDITION, now), arrival.rendition, arrival.rendered, now=now
    )
    clip = Clip.objects.select_related("measurement__run").get(pk=clip.pk)
    _store(clip.measurement.run, arrival, now)


def _claimed(clip: Clip, work: str, now: datetime) -> ClipJob:
    row = clip.jobs.get(work=work)
    job = jobs.claim(ClipJob.objects.select_related("clip"), row.pk, now=now, lease=settings.JOB_LEASE)
    if job is None:
        raise RuntimeError(f"job {row.pk} of the demo's clip was taken before its transaction ended")
    return job


def _store(run: AnalysisRun, arrival: Arrival, now: datetime) -> None:
    if run.parameters != arrival.parameters:
        raise RuntimeError(f"run {run.pk} asks for {run.parameters}, and {arrival.parameters} was measured")
    claimed = jobs.claim(AnalysisRun.objects.all(), run.pk, now=now, lease=settings.JOB_LEASE)
    if claimed is None:
        catch_up(run.pk, now=now)
    else:
        store_result(claimed, arrival.result, now=now)
