"""A file on its way in: begun, grown piece by piece over hours, complete, or ended."""

from __future__ import annotations

import hashlib
import shutil
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import F, Q, Sum

from coachhub.accounts.domain import limits
from coachhub.accounts.enums import AttemptKind
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.videos.domain.clips import (
    add_clip,
    add_reference_clip,
    refuse_unless_open_for_a_film,
    refuse_unless_open_for_clips,
    shown_name,
)
from coachhub.videos.domain.pieces import part_path
from coachhub.videos.enums import UploadState, View
from coachhub.videos.models import Clip, Reference, Submission, Upload

# Room that must stay free for everything else on the disk.
KEPT_FREE_BYTES = 200 * 1024**2
MOST_GROWING = 24
LONGEST_REPORT = 4000


class TooLarge(RuleBroken):
    """More than one file, one person or the disk may hold. ``is_disk``: ours is the trouble, not the sender's."""

    def __init__(self, code: str, sentence: str, *, is_disk: bool = False) -> None:
        super().__init__(code, sentence)
        self.is_disk = is_disk


@dataclass(frozen=True)
class Take:
    """Sound of a coach's talk, on its way to the feedback."""

    review: UUID
    talk: UUID
    number: int


@dataclass(frozen=True)
class Announced:
    """What a sender says before the first byte."""

    length: int
    view: str
    file_name: str = ""
    phone_report: dict[str, Any] | None = None


@transaction.atomic
def begin_upload(
    home: Submission | Reference | Take, announced: Announced, *, by: User, now: datetime
) -> Upload:
    """Refuse, or make room for a file of the announced length."""
    if not isinstance(home, Take) and announced.view not in View.values:
        raise ValueError(f"view must be one of {View.values}, not {announced.view!r}")
    if announced.length < 1:
        raise RuleBroken("empty", "This file is empty. Choose the video of the swing.")
    place = _place(home, announced.length, by)
    _refuse_too_large(announced.length, by)
    limits.spend(AttemptKind.UPLOAD, person=by, now=now)
    return Upload.objects.create(
        owner=by,
        **place,
        view=announced.view,
        length=announced.length,
        file_name=shown_name(announced.file_name),
        phone_report=announced.phone_report or {},
        expires_at=now + settings.UPLOAD_LIFETIME,
        created_at=now,
    )


def _place(home: Submission | Reference | Take, length: int, by: User) -> dict[str, Any]:
    if isinstance(home, Take):
        from coachhub.feedback.domain.talk_takes import refuse_unless_open  # upward: next stage

        refuse_unless_open(home.review, home.number, length, by=by)
        return {"for_review": home.review, "talk": home.talk, "take": home.number}
    if isinstance(home, Reference):
        refuse_unless_open_for_a_film(home, by)
        return {"reference": home}
    refuse_unless_open_for_clips(home, by)
    return {"submission": home}


def _refuse_too_large(length: int, by: User) -> None:
    most = settings.UPLOAD_MAX_BYTES
    if length > most:
        raise TooLarge(
            "too_many_bytes",
            f"This file is larger than {_megabytes(most)}. Trim it to the swing and send it again.",
        )
    growing = Upload.objects.filter(owner=by, state=UploadState.GROWING)
    if growing.count() >= MOST_GROWING:
        raise RuleBroken("too_many_uploads", "Too many uploads are under way. Finish or remove some first.")
    own = Q(submission__student=by) | Q(reference__owner=by)
    kept = Clip.objects.filter(own, original_deleted_at=None).aggregate(n=Sum("size"))["n"] or 0
    coming = growing.aggregate(n=Sum("length"))["n"] or 0
    if kept + coming + length > settings.UPLOAD_QUOTA_BYTES:
        raise TooLarge(
            "quota", "Your videos fill all the room you have here. Ask the organiser for more room."
        )
    settings.UPLOAD_DIR.mkdir(parents=True, exist_ok=True)
    if shutil.disk_usage(settings.UPLOAD_DIR).free < length + KEPT_FREE_BYTES:
        raise TooLarge(
            "disk_full", "There is no room left on our side. Please try again in an hour.", is_disk=True
        )


def _megabytes(size: int) -> str:
    return f"{size // 1024**2} MB" if size >= 1024**2 else f"{size} bytes"


def finish_upload(upload: Upload, *, now: datetime) -> Upload:
    """Turn a complete file into a clip. Safe to repeat: the second call changes nothing."""
    path = part_path(upload)
    if upload.state != UploadState.GROWING or upload.offset != upload.length:
        return upload
    try:
        digest = _sha256(path)
    except FileNotFoundError:
        return _lost(upload)
    try:
        with transaction.atomic():
            if not Upload.objects.filter(pk=upload.pk, state=UploadState.GROWING).update(
                state=UploadState.COMPLETE
            ):
                upload.refresh_from_db()
                return upload
            clip = _clip_of(upload, path, digest, now=now)
            Upload.objects.filter(pk=upload.pk).update(clip=clip)
    except RuleBroken as broken:
        Upload.objects.filter(pk=upload.pk).update(state=UploadState.COMPLETE, refused_text=broken.sentence)
    path.unlink(missing_ok=True)
    upload.refresh_from_db()
    return upload


def _clip_of(upload: Upload, path: Path, digest: str, *, now: datetime) -> Clip | None:
    if upload.talk is not None:
        from coachhub.feedback.domain.talk_takes import keep_take  # upward: next stage

        keep_take(upload, path, by=upload.owner, now=now)
        return None
    facts: dict[str, Any] = {
        "source_path": path,
        "size": upload.length,
        "sha256": digest,
        "file_name": upload.file_name,
        "by": upload.owner,
        "now": now,
    }
    if isinstance(upload.home, Reference):
        return add_reference_clip(upload.home, **facts)
    return add_clip(upload.home, view=upload.view, **facts)


def _lost(upload: Upload) -> Upload:
    """Another request took the file a moment ago, or the disk lost it."""
    Upload.objects.filter(pk=upload.pk, state=UploadState.GROWING).update(
        state=UploadState.COMPLETE, refused_text="A video got lost on our side. Please send it again."
    )
    upload.refresh_from_db()
    return upload


def _sha256(path: Any) -> str:
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def end_upload(upload: Upload, *, now: datetime) -> bool:
    """Forget an unfinished upload and what has arrived of it. False: it was over already."""
    ended = Upload.objects.filter(pk=upload.pk, state=UploadState.GROWING).update(state=UploadState.GONE)
    if ended:
        part_path(upload).unlink(missing_ok=True)
    return bool(ended)


def drop_expired(*, now: datetime) -> int:
    """End uploads that nobody continued, and remove pieces without a row; returns how many ended."""
    expired = Upload.objects.filter(state=UploadState.GROWING, expires_at__lte=now)
    ended = sum(end_upload(upload, now=now) for upload in expired)
    _drop_orphans(now)
    return ended


def _drop_orphans(now: datetime) -> None:
    growing = {part_path(upload).name for upload in Upload.objects.filter(state=UploadState.GROWING)}
    for path in settings.UPLOAD_DIR.glob("*.part"):
        old = path.stat().st_mtime < (now - settings.UPLOAD_LIFETIME).timestamp()
        if old and path.name not in growing:
            path.unlink(missing_ok=True)


def finish_stuck(*, now: datetime) -> int:
    """For the sweep: files that arrived whole just before their server died."""
    free = Q(locked_until=None) | Q(locked_until__lt=now)
    stuck = Upload.objects.filter(free, state=UploadState.GROWING, offset=F("length"))
    # Another machine's file is for that machine to finish.
    here = [upload for upload in stuck if part_path(upload).exists()]
    return sum(finish_upload(upload, now=now).state == UploadState.COMPLETE for upload in here)
