"""All data of one person as one file: JSON, media and a readable page (GDPR articles 15 and 20)."""

from __future__ import annotations

import json
import tempfile
import zipfile
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files import File
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation

from coachhub.accounts.domain.guardians import answers_for
from coachhub.accounts.domain.notices import tell
from coachhub.accounts.enums import NoticeKind
from coachhub.accounts.models import User
from coachhub.common.domain import jobs
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit
from coachhub.common.domain.recordings import Clock, forget_files
from coachhub.common.enums import JobState
from coachhub.progress.domain.own_data import data_of
from coachhub.progress.domain.own_media import kind_of, media_of
from coachhub.progress.domain.own_words import in_words
from coachhub.progress.models import Takeaway

KEPT_FOR = timedelta(days=7)
FAILED = "The file could not be made. Order it again; if it fails once more, tell the organiser."


@transaction.atomic
def order(person: User, *, by: User, now: datetime) -> Takeaway:
    """Have it made; one that is under way is that one."""
    if by.pk != person.pk and not answers_for(by, person):
        raise RuleBroken("not_yours", "Only the person, or a guardian, can ask for this.")
    row, is_new = _under_way(person, by, now)
    if is_new:
        record("takeaway.ordered", row, by=by, now=now)
        after_commit(_send, row.pk)
    return row


def _under_way(person: User, by: User, now: datetime) -> tuple[Takeaway, bool]:
    try:
        with transaction.atomic():
            return Takeaway.objects.create(person=person, ordered_by=by, queued_at=now, created_at=now), True
    except IntegrityError:
        running = (JobState.WAITING, JobState.RUNNING)
        return Takeaway.objects.get(person=person, ordered_by=by, job_state__in=running), False


def _send(takeaway_id: int) -> None:
    from coachhub.progress.tasks import pack_takeaway

    pack_takeaway.delay(takeaway_id)


def pack(takeaway_id: int, *, clock: Clock) -> bool:
    """Claim the row and write its file. False: somebody else has it, or it is over."""
    row = jobs.claim(Takeaway.objects.all(), takeaway_id, now=clock(), lease=settings.JOB_LEASE)
    if row is None:
        return False
    with tempfile.TemporaryDirectory(prefix="takeaway-") as folder:
        made = Path(folder) / "data.zip"
        _write(row, made, clock)
        with made.open("rb") as file:
            key = default_storage.save(f"takeaways/{row.public_id.hex}-{row.attempts}.zip", File(file))
        with transaction.atomic():
            done = jobs.finish(row, now=clock())
            if done:
                facts = {"file_key": key, "size": made.stat().st_size, "expires_at": clock() + KEPT_FOR}
                Takeaway.objects.filter(pk=row.pk).update(**facts)
                _tell(row, now=clock())
        if not done:
            default_storage.delete(key)
    return True


def _tell(row: Takeaway, *, now: datetime) -> None:
    """Copying films takes a while: whoever asked has closed the page by then."""
    path = reverse("data:person", args=[row.person.public_id])
    tell(row.ordered_by, NoticeKind.READY, about=row.public_id, path=path, to_guardians=False, now=now)


def _write(row: Takeaway, made: Path, clock: Clock) -> None:
    person, media = row.person, list(media_of(row.person))
    data = data_of(person)
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        taken = []
        for number, (name, key, what) in enumerate(media, start=1):
            if not key or not default_storage.exists(key):
                continue
            with default_storage.open(key) as source, archive.open(zipfile.ZipInfo(name), "w") as target:
                while block := source.read(1 << 20):
                    target.write(block)
            taken.append({"file": name, "what": what, "kind": kind_of(name)})
            percent = 90 * number // len(media)
            jobs.beat(row, now=clock(), lease=settings.JOB_LEASE, stage="copying films", percent=percent)
        told = {"made_at": clock().isoformat(), "data": data, "files": taken}
        archive.writestr("data.json", json.dumps(told, ensure_ascii=False, indent=1, default=str))
        archive.writestr("index.html", page_of(person, data, taken, now=clock()))


def page_of(
    person: User, data: dict[str, list[dict[str, Any]]], files: list[dict[str, str]], *, now: datetime
) -> str:
    """The same for reading, without any script or outside file; in the language that its section titles have."""
    context = {"person": person, "sections": in_words(data), "files": files, "now": now}
    with translation.override("en"):
        return render_to_string("data/takeaway.html", context)


def drop_expired(*, now: datetime) -> int:
    """Files whose days are over; the rows go with them."""
    old = Takeaway.objects.filter(expires_at__lte=now)
    keys = list(old.values_list("file_key", flat=True))
    with transaction.atomic():
        old.delete()
        after_commit(forget_files, keys)
    return len(keys)


def requeue_lost_takeaways(now: datetime) -> int:
    ids = jobs.requeue_lost(
        Takeaway.objects.all(), now=now, most=settings.JOB_MAX_ATTEMPTS, silent_for=settings.JOB_LEASE
    )
    for takeaway_id in ids:
        _send(takeaway_id)
    return len(ids)
