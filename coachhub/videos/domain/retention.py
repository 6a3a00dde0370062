"""The retention clock of originals: what plays stays, the file as it was sent goes."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

from django.db import transaction
from django.db.models import Q

from coachhub.common.domain.events import record
from coachhub.videos.domain.files import drop_files
from coachhub.videos.enums import ClipState
from coachhub.videos.models import Clip

MOST_AT_ONCE = 200


def original_goes_at(clip: Clip) -> datetime:
    """The camp's retention days after its last day, or after the upload, whichever is later."""
    camp = clip.camp
    ends_at = datetime.combine(camp.ends_on, time.max, tzinfo=camp.zone)
    return max(ends_at, clip.created_at).astimezone(UTC) + timedelta(days=camp.retention_days)


def drop_old_originals(*, now: datetime) -> int:
    """Delete originals whose time is over; returns how many. A clip without a rendition keeps its only copy."""
    playable = ~Q(rendition_key="") | Q(state=ClipState.REFUSED)
    left = Clip.objects.filter(playable, original_deleted_at=None).exclude(original_key="")
    due = [
        clip
        for clip in left.select_related("submission__camp", "reference__camp").iterator()
        if original_goes_at(clip) <= now
    ]
    return sum(_drop_original(clip, now=now) for clip in due[:MOST_AT_ONCE])


@transaction.atomic
def _drop_original(clip: Clip, *, now: datetime) -> bool:
    if not Clip.objects.filter(pk=clip.pk, original_deleted_at=None).update(original_deleted_at=now):
        return False
    record("clip.original_deleted", clip, by=None, now=now, scope=clip.camp.public_id)
    transaction.on_commit(lambda: drop_files([clip.original_key]), robust=True)
    return True
