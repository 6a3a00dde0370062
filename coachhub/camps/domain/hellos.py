"""A coach's recorded hello: kept beside its words, made playable by a worker, gone with the camp's films."""

from __future__ import annotations

import tempfile
import uuid
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.core.files import File
from django.core.files.storage import default_storage
from django.db import transaction
from django.urls import reverse

from analysis.adapters.sandbox import ChildError, Limits
from coachhub.accounts.domain.notices import tell
from coachhub.accounts.enums import NoticeKind
from coachhub.accounts.models import User
from coachhub.camps.domain.weeks import local_day
from coachhub.camps.models import Camp, Hello, HelloRecording
from coachhub.common.domain import jobs
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit
from coachhub.common.domain.recordings import Clock, fetch, forget_files, give_up, keep_made, work_in_child
from coachhub.common.enums import JobState
from coachhub.common.rules import can

MB = 1024**2
# The proxy lets 32 MB through to a page.
MOST_BYTES = 30 * MB
LIMITS = Limits(cpu_s=900, memory_bytes=2000 * MB, file_bytes=200 * MB, wall_s=900, nice=10)
UNREADABLE = "This recording can't be read. Record it again."


@transaction.atomic
def record_hello(hello: Hello, recording: File[bytes], *, by: User, now: datetime) -> HelloRecording:
    """Keep what the coach recorded; what played until now plays on until this is ready."""
    hello = Hello.objects.select_for_update().get(pk=hello.pk)
    _refuse_unfit(hello, recording, by)
    playing = hello.playable
    _forget(row for row in hello.recordings.all() if row != playing)
    row = HelloRecording.objects.create(
        hello=hello,
        source_key=default_storage.save(f"hellos/recorded/{uuid.uuid4().hex}", recording),
        queued_at=now,
        created_at=now,
    )
    record("hello.recorded", hello, by=by, now=now, scope=hello.cohort.camp.public_id)
    after_commit(_send, row.pk)
    return row


def _refuse_unfit(hello: Hello, recording: File[bytes], by: User) -> None:
    if hello.by_id != by.pk:
        raise RuleBroken("not_yours", "A hello is recorded by the coach who says it.")
    if not recording.size:
        raise RuleBroken("empty", "Nothing was recorded. Check that the microphone is on and record again.")
    if recording.size > MOST_BYTES:
        raise RuleBroken(
            "too_large",
            f"The recording is too large: at most {MOST_BYTES // MB} MB. "
            "Keep a film under a minute, or record your voice alone.",
        )


@transaction.atomic
def unrecord_hello(hello: Hello, *, by: User, now: datetime) -> None:
    """The words stay. Twice is once. Who organises the camp answers for what is played in it."""
    if hello.by_id != by.pk and not can(by, "camps.manage_members", hello.cohort):
        raise RuleBroken("not_yours", "Only the coach who recorded it, or an organiser, can delete it.")
    if hello.recordings.exists():
        record("hello.unrecorded", hello, by=by, now=now, scope=hello.cohort.camp.public_id)
    _forget(hello.recordings.all())


def _forget(rows: Iterable[HelloRecording]) -> None:
    found = list(rows)
    HelloRecording.objects.filter(pk__in=[row.pk for row in found]).delete()
    after_commit(forget_files, [key for row in found for key in (row.source_key, row.made_key)])


def _send(recording_id: int) -> None:
    from coachhub.camps.tasks import prepare_hello

    prepare_hello.delay(recording_id)


def prepare(recording_id: int, *, clock: Clock) -> bool:
    """Claim the recording and convert it in the confined child. False: somebody else has it, or it is over."""
    row = jobs.claim(HelloRecording.objects.all(), recording_id, now=clock(), lease=settings.JOB_LEASE)
    if row is None:
        return False
    with tempfile.TemporaryDirectory(prefix="hello-") as folder:
        arguments = {"path": str(fetch(row.source_key, Path(folder) / "recording")), "out_dir": folder}
        try:
            facts = work_in_child(
                row, "analysis.adapters.greeting:greeting_to_dir", arguments, limits=LIMITS, clock=clock
            )
        except ChildError as problem:
            give_up(row, problem, now=clock(), sentence=UNREADABLE)
            _tell_of_failed(clock())
        else:
            made = Path(folder) / facts["name"]
            keep_made(
                row,
                made,
                f"hellos/playable/{row.public_id.hex}-{row.attempts}{made.suffix}",
                field="made_key",
                duration_ms=facts["duration_ms"],
                is_film=facts["is_film"],
                now=clock(),
            )
            _drop_what_it_replaces(row)
    return True


@transaction.atomic
def _drop_what_it_replaces(row: HelloRecording) -> None:
    """The older recordings, and the own file as it was sent."""
    done = HelloRecording.objects.select_for_update().filter(pk=row.pk).exclude(made_key="").first()
    if done is None:
        return
    _forget(HelloRecording.objects.filter(hello_id=done.hello_id, pk__lt=done.pk))
    after_commit(forget_files, [done.source_key])
    HelloRecording.objects.filter(pk=done.pk).update(source_key="")


def look_after(now: datetime) -> int:
    """For the sweep: what a dead worker left, and what goes with the camp's films."""
    _drop_old(now)
    _tell_of_failed(now)
    ids = jobs.requeue_lost(
        HelloRecording.objects.all(), now=now, most=settings.JOB_MAX_ATTEMPTS, silent_for=settings.JOB_LEASE
    )
    for recording_id in ids:
        _send(recording_id)
    return len(ids)


def _tell_of_failed(now: datetime) -> None:
    """The coach has closed the page by then, and the students would wait for nothing. Each is told once."""
    rows = HelloRecording.objects.filter(job_state=JobState.FAILED)
    for row in rows.select_related("hello__by", "hello__cohort__camp"):
        camp = _camp(row)
        if row.hello.by is not None:
            tell(
                row.hello.by,
                NoticeKind.UNREADABLE,
                about=row.public_id,
                path=reverse("organiser:plan", args=[camp.public_id]),
                scope=camp.public_id,
                words={"camp": camp.name},
                now=now,
            )


def _drop_old(now: datetime) -> None:
    """The camp's retention days after its last day; the words stay."""
    rows = HelloRecording.objects.select_related("hello__cohort__camp")
    over = rows.filter(hello__cohort__camp__ends_on__lt=(now - timedelta(days=1)).date())
    with transaction.atomic():
        _forget(row for row in over if last_day_of_recordings(_camp(row)) < local_day(_camp(row), now))


def _camp(row: HelloRecording) -> Camp:
    return row.hello.cohort.camp


def last_day_of_recordings(camp: Camp) -> date:
    """The day after which the recorded hellos of the camp are deleted."""
    return camp.ends_on + timedelta(days=camp.retention_days)
