"""The retention clock: when films go, told beforehand, and done exactly so.

The file as it was sent and the copy for playing go together, after the camp's days; numbers, answers and the talk stay.
A student may have a camp's videos kept for a year more. A coach's library keeps its copy for playing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet

from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit
from coachhub.videos.domain.files import drop_files
from coachhub.videos.enums import ClipState
from coachhub.videos.models import Clip, KeptVideos

MOST_AT_ONCE = 200
KEPT_LONGER = timedelta(days=365)
PLAYED = ("rendition_key", "poster_key", "index_key")


@dataclass(frozen=True)
class Going:
    """What goes of one clip, and when."""

    clip: Clip
    at: datetime
    keys: tuple[str, ...]

    @property
    def is_kept(self) -> bool:
        """A year longer, as the student wished."""
        return _is_kept(self.clip)


def original_goes_at(clip: Clip) -> datetime:
    """The camp's retention days after its last day, or after the upload, whichever is later; a year more if kept."""
    camp = clip.camp
    ends_at = datetime.combine(camp.ends_on, time.max, tzinfo=camp.zone)
    goes_at = max(ends_at, clip.created_at).astimezone(UTC) + timedelta(days=camp.retention_days)
    return goes_at + KEPT_LONGER if _is_kept(clip) else goes_at


def knowing_what_is_kept(clips: QuerySet[Clip]) -> QuerySet[Clip]:
    """For lists: whether each is kept longer comes with the clips themselves."""
    kept = KeptVideos.objects.filter(
        student=OuterRef("submission__student"), camp=OuterRef("submission__camp")
    )
    return clips.annotate(is_kept=Exists(kept))


def _is_kept(clip: Clip) -> bool:
    submission = clip.submission
    if submission is None:
        return False
    known = getattr(clip, "is_kept", None)
    if known is not None:
        return bool(known)
    return KeptVideos.objects.filter(student=submission.student_id, camp=submission.camp_id).exists()


def _with_files() -> QuerySet[Clip]:
    """Clips of which something is left that goes. One that is neither playable nor refused keeps its only copy."""
    playable = ~Q(rendition_key="") | Q(state=ClipState.REFUSED)
    played = Q(reference=None) & ~Q(rendition_key="")
    original = Q(original_deleted_at=None) & ~Q(original_key="")
    rows = Clip.objects.filter(playable).filter(played | original)
    rows = rows.select_related("submission__camp", "submission__student", "reference__camp")
    return knowing_what_is_kept(rows)


def preview(clips: QuerySet[Clip] | None = None) -> list[Going]:
    """What will go and when, the next first; of these clips, or of all."""
    rows = _with_files()
    if clips is not None:
        rows = rows.filter(pk__in=clips.values("pk"))
    found = [Going(clip, original_goes_at(clip), tuple(_keys(clip))) for clip in rows.iterator()]
    return sorted(found, key=lambda going: (going.at, going.clip.pk))


def films_of_camp(camp: Camp) -> list[Going]:
    """Its students' films and its coaches' library."""
    return preview(Clip.objects.filter(Q(submission__camp=camp) | Q(reference__camp=camp)))


def _keys(clip: Clip) -> Iterable[str]:
    if clip.original_deleted_at is None and clip.original_key:
        yield clip.original_key
    if clip.reference_id is None:
        yield from filter(None, (getattr(clip, name) for name in PLAYED))


def drop_old_films(*, now: datetime) -> int:
    """Delete what the preview says is due; returns of how many clips."""
    due = [going for going in preview() if going.at <= now]
    return sum(_drop(going, now=now) for going in due[:MOST_AT_ONCE])


@transaction.atomic
def _drop(going: Going, *, now: datetime) -> bool:
    clip = Clip.objects.select_for_update().get(pk=going.clip.pk)
    # Kept in the meantime, or gone already: the preview is asked anew for the row as it is.
    if original_goes_at(clip) > now or not (keys := list(_keys(clip))):
        return False
    fields: dict[str, Any] = {"original_deleted_at": clip.original_deleted_at or now}
    if clip.reference_id is None:
        fields |= dict.fromkeys(PLAYED, "")
        _forget_pictures(clip, now=now)
    Clip.objects.filter(pk=clip.pk).update(**fields)
    record("clip.films_deleted", clip, by=None, now=now, scope=clip.camp.public_id)
    after_commit(drop_files, keys)
    return True


def _forget_pictures(clip: Clip, *, now: datetime) -> None:
    """Stills and lessons were made from the film."""
    from coachhub.feedback.domain.cases import take_down  # upward: made from it
    from coachhub.feedback.models import Case  # upward: made from it
    from coachhub.swings.domain.files import pictures_of_clip  # upward: made from it

    for case in Case.objects.filter(Q(swing__clip=clip) | Q(talk__review__submission=clip.submission)):
        take_down(case, by=None, now=now)
    after_commit(drop_files, pictures_of_clip(clip))


@transaction.atomic
def keep_videos(student: User, camp: Camp, *, by: User, now: datetime) -> KeptVideos:
    """For a year more than the camp keeps them."""
    row, is_new = KeptVideos.objects.get_or_create(student=student, camp=camp, defaults={"created_at": now})
    if is_new:
        record("videos.kept", row, by=by, now=now, scope=camp.public_id)
    return row


@transaction.atomic
def keep_no_longer(student: User, camp: Camp, *, by: User, now: datetime) -> None:
    for row in KeptVideos.objects.filter(student=student, camp=camp):
        record("videos.kept_no_longer", row, by=by, now=now, scope=camp.public_id)
        row.delete()
