"""The workers' part with real files and the real child process."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from analysis.adapters.sandbox import ChildError
from coachhub.common.domain import jobs
from coachhub.videos.domain import intake
from coachhub.videos.domain.clips import add_clip
from coachhub.videos.domain.intake import check_clip, render_clip, settle_given_up
from coachhub.videos.domain.jobs import requeue_lost_work
from coachhub.videos.domain.retention import (
    drop_old_films,
    keep_no_longer,
    keep_videos,
    original_goes_at,
    preview,
)
from coachhub.videos.enums import ClipState, SubmissionState
from coachhub.videos.models import Clip, ClipJob, Submission
from coachhub.videos.tasks import send_lost_work
from tests import factories
from tests.analysis.adapters import footage
from tests.cast import make_cast
from tests.coachhub.videos.conftest import Queue
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


def clock() -> datetime:
    return timezone.now()


def received(submission: Submission, path: Path) -> ClipJob:
    clip = add_clip(
        submission,
        view="dtl",
        source_path=path,
        size=path.stat().st_size,
        sha256=hashlib.sha256(path.read_bytes()).hexdigest(),
        file_name="swing.mp4",
        by=submission.student,
        now=timezone.now(),
    )
    return ClipJob.objects.get(clip=clip, work="check")


def test_from_file_to_rendition(submission: Submission, tmp_path: Path, queue: Queue) -> None:
    job = received(submission, footage.film(tmp_path / "a.mov", turn_deg=-90, tone_hz=440.0))
    assert check_clip(job.pk, clock=clock)
    assert not check_clip(job.pk, clock=clock), "twice is once"
    clip = Clip.objects.get()
    assert (clip.state, clip.width, clip.height, clip.frame_count) == (ClipState.PLAYABLE, 240, 320, 60)
    assert (clip.codec, clip.has_audio, clip.fps) == ("h264", True, pytest.approx(60))
    rendering = ClipJob.objects.get(work="rendition")
    assert render_clip(rendering.pk, clock=clock)
    assert not render_clip(rendering.pk, clock=clock)
    clip.refresh_from_db()
    with default_storage.open(clip.index_key) as file:
        index = json.load(file)
    assert len(index["times_us"]) == 60
    with default_storage.open(clip.rendition_key) as file:
        assert file.read(12)[4:8] == b"ftyp"
    with default_storage.open(clip.poster_key) as file:
        assert file.read(3) == b"\xff\xd8\xff"
    rendering.refresh_from_db()
    assert (rendering.job_state, rendering.percent) == ("done", 100)


@pytest.mark.parametrize(
    "content, code",
    [
        (b"not a video at all", "not_video"),
        (b"#EXTM3U\nhttp://192.0.2.1/x.ts\n", "playlist"),
        (b"\0\0\0\x18ftypisom" + bytes(1000), "truncated"),
    ],
)
def test_what_is_no_clip_is_refused_with_a_sentence(
    submission: Submission, tmp_path: Path, content: bytes, code: str
) -> None:
    path = tmp_path / "swing.mp4"
    path.write_bytes(content)
    job = received(submission, path)
    assert check_clip(job.pk, clock=clock)
    clip = Clip.objects.get()
    assert (clip.state, clip.refused_code) == (ClipState.REFUSED, code)
    assert "lease " in clip.refused_text
    assert not ClipJob.objects.filter(work="rendition").exists()


def test_a_flattened_slow_motion_is_said(submission: Submission, tmp_path: Path) -> None:
    path = footage.film(
        tmp_path / "a.mp4",
        fps=30,
        metadata={"com.android.capture.fps": "240"},
        file_options={"movflags": "use_metadata_tags"},
    )
    check_clip(received(submission, path).pk, clock=clock)
    assert [warning["code"] for warning in Clip.objects.get().warnings] == ["slow_motion_flattened"]


def broken_at(frames: slice, path: Path) -> Path:
    import av

    footage.film(path, frames=120, g="1")
    with av.open(str(path)) as container:
        places = [(entry.pos, entry.size) for entry in container.streams.video[0].index_entries]
    content = bytearray(path.read_bytes())
    for place, size in places[frames]:
        content[place + 4 : place + size] = bytes(size - 4)
    path.write_bytes(content)
    return path


def test_a_clip_that_breaks_midway_is_refused_by_the_rendition(
    submission: Submission, tmp_path: Path
) -> None:
    check_clip(received(submission, broken_at(slice(20, 100), tmp_path / "a.mp4")).pk, clock=clock)
    clip = Clip.objects.get()
    assert clip.state == ClipState.PLAYABLE
    render_clip(ClipJob.objects.get(work="rendition").pk, clock=clock)
    clip.refresh_from_db()
    assert (clip.state, clip.refused_code) == (ClipState.REFUSED, "damaged")


def failing(code: str, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*args: object, **kwargs: object) -> Any:
        raise ChildError(kind, code, "It went wrong.", "details")

    monkeypatch.setattr(intake, "run_limited", fail)


def test_our_own_trouble_is_tried_again_then_said(
    submission: Submission, file: Path, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.JOB_MAX_ATTEMPTS = 2
    job = received(submission, file)
    failing("crashed", "crash", monkeypatch)
    check_clip(job.pk, clock=clock)
    job.refresh_from_db()
    assert (job.job_state, job.attempts, job.clip.state) == ("waiting", 1, ClipState.RECEIVED)
    check_clip(job.pk, clock=clock)
    job.refresh_from_db()
    assert (job.job_state, job.clip.state) == ("failed", ClipState.REFUSED)


def test_a_full_disk_while_rendering_refuses_nothing(
    submission: Submission, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.JOB_MAX_ATTEMPTS = 1
    clip = factories.make_clip(submission, state=ClipState.PLAYABLE)
    path = Path(default_storage.path(clip.original_key))
    path.parent.mkdir(parents=True)
    path.write_bytes(b"x")
    job = ClipJob.objects.create(clip=clip, work="rendition", queued_at=NOW)
    failing("disk_full", "limit", monkeypatch)
    render_clip(job.pk, clock=clock)
    clip.refresh_from_db()
    assert clip.state == ClipState.PLAYABLE
    assert [warning["code"] for warning in clip.warnings] == ["not_rendered"]


def test_a_missing_original_is_said(submission: Submission, file: Path) -> None:
    job = received(submission, file)
    default_storage.delete(job.clip.original_key)
    check_clip(job.pk, clock=clock)
    assert Clip.objects.get().refused_code == "source_gone"


def test_a_worker_that_lost_its_lease_changes_nothing(
    submission: Submission, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = received(submission, footage.film(tmp_path / "a.mp4"))
    monkeypatch.setattr(jobs, "beat", lambda *args, **kwargs: False)
    check_clip(job.pk, clock=clock)
    job.refresh_from_db()
    assert (job.job_state, job.clip.state) == ("running", ClipState.RECEIVED)


def test_the_sweep_sends_a_dead_workers_job_again(
    submission: Submission, file: Path, queue: Queue, settings: Any
) -> None:
    job = received(submission, file)
    jobs.claim(ClipJob.objects.all(), job.pk, now=NOW, lease=settings.JOB_LEASE)
    assert requeue_lost_work(NOW + settings.JOB_LEASE / 2) == 0
    assert requeue_lost_work(NOW + settings.JOB_LEASE * 2) == 1
    assert queue == [("videos.check", job.pk)]


def test_a_check_that_was_given_up_is_said_to_the_student(submission: Submission, file: Path) -> None:
    Submission.objects.filter(pk=submission.pk).update(state=SubmissionState.SENT)
    factories.make_review(submission, state="expected", due_at=None)
    job = received(submission, file)
    ClipJob.objects.filter(pk=job.pk).update(job_state="failed", error_code="gave_up")
    assert send_lost_work(NOW) == 1
    assert settle_given_up(now=NOW) == 0
    clip = Clip.objects.get()
    assert (clip.state, clip.refused_code) == (ClipState.REFUSED, "gave_up")
    submission.refresh_from_db()
    assert submission.state == SubmissionState.REFILM


def test_retention_waits_for_the_camps_end_and_its_days(submission: Submission) -> None:
    """The camp ends on 28 June in Tokyo, UTC+9: its last moment is 15:00 UTC of that day."""
    clip = factories.make_clip(submission, rendition_key="r", created_at=NOW)
    ends = datetime(2026, 6, 28, 15, 0, tzinfo=UTC) + timedelta(days=90)
    assert abs(original_goes_at(clip) - ends) < timedelta(seconds=1)
    assert submission.camp.ends_on == date(2026, 6, 28)


def test_exactly_what_the_preview_said_goes(
    submission: Submission, file: Path, django_capture_on_commit_callbacks: Any
) -> None:
    clip = received(submission, file).clip
    far = NOW + timedelta(days=2000)
    assert drop_old_films(now=far) == 0, "its only copy stays"
    played = {
        "rendition_key": "renditions/x.mp4",
        "poster_key": "posters/x.jpg",
        "index_key": "indexes/x.json",
    }
    for key in played.values():
        default_storage.save(key, ContentFile(b"x"))
    Clip.objects.filter(pk=clip.pk).update(**played)
    [going] = preview()
    assert set(going.keys) == {clip.original_key, *played.values()}
    assert drop_old_films(now=going.at - timedelta(seconds=1)) == 0
    # A student who wants them kept has a year more, and the preview says so.
    keep_videos(submission.student, submission.camp, by=submission.student, now=NOW)
    assert preview()[0].at == going.at + timedelta(days=365)
    assert drop_old_films(now=going.at) == 0
    keep_no_longer(submission.student, submission.camp, by=submission.student, now=NOW)
    with django_capture_on_commit_callbacks(execute=True):
        assert drop_old_films(now=going.at) == 1
    assert drop_old_films(now=far) == 0 and preview() == []
    assert not any(default_storage.exists(key) for key in going.keys)
    clip.refresh_from_db()
    assert (clip.original_deleted_at, clip.rendition_key) == (going.at, "")


def test_the_library_keeps_what_plays(django_capture_on_commit_callbacks: Any) -> None:
    cast = make_cast()
    reference = factories.make_reference(cast.coach, cast.camp)
    clip = factories.make_clip(None, reference=reference, rendition_key="renditions/library.mp4")
    assert [going.keys for going in preview()] == [(clip.original_key,)]
    with django_capture_on_commit_callbacks(execute=True):
        assert drop_old_films(now=NOW + timedelta(days=2000)) == 1
    clip.refresh_from_db()
    assert clip.rendition_key == "renditions/library.mp4"
