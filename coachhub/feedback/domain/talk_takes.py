"""Takes of a talk: recorded in the browser, sent like a film, kept until the talk is put together."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from pathlib import Path
from uuid import UUID

from django.core.files import File
from django.core.files.storage import default_storage
from django.db import transaction

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.later import after_commit
from coachhub.common.domain.recordings import forget_files
from coachhub.feedback.domain.claims import refuse_unless_held
from coachhub.feedback.domain.talk_script import MOST_TAKES
from coachhub.feedback.models import Review, TalkTake, TalkThrough
from coachhub.videos.models import Upload

MOST_BYTES = 20 * 1024 * 1024
# A coach may come back to a talk that was never finished; after this nobody will.
FORGOTTEN_AFTER = timedelta(days=14)


def refuse_unless_open(review_id: UUID, number: int, length: int, *, by: User) -> Review:
    """The review that a take may be sent to."""
    review = Review.objects.visible_to(by).filter(public_id=review_id).first()
    if review is None:
        raise RuleBroken("unknown", "The answer this recording belongs to is unknown here.")
    refuse_unless_held(review, by)
    if not 1 <= number <= MOST_TAKES:
        raise RuleBroken("too_many", f"A talk has at most {MOST_TAKES} takes. Start a new one.")
    if length > MOST_BYTES:
        raise RuleBroken("too_large", "This take is too long. Keep each one under ten minutes.")
    return review


@transaction.atomic
def keep_take(upload: Upload, path: Path, *, by: User, now: datetime) -> TalkTake:
    """Move a complete upload to where takes are kept. The same take sent twice is kept once."""
    assert upload.for_review is not None and upload.talk is not None and upload.take is not None
    review = refuse_unless_open(upload.for_review, upload.take, upload.length, by=by)
    kept = TalkTake.objects.filter(talk_id=upload.talk, number=upload.take).first()
    if kept is not None:
        if kept.review_id != review.pk:
            raise RuleBroken("not_yours", "This take belongs to another answer. Record it anew.")
        return kept
    with path.open("rb") as file:
        key = default_storage.save(f"talks/recorded/{uuid.uuid4().hex}", File(file))
    return TalkTake.objects.create(
        review=review,
        talk_id=upload.talk,
        number=upload.take,
        source_key=key,
        size=upload.length,
        created_at=now,
    )


@transaction.atomic
def drop_takes(talk_id: UUID) -> None:
    takes = TalkTake.objects.filter(talk_id=talk_id)
    keys = list(takes.values_list("source_key", flat=True))
    takes.delete()
    after_commit(forget_files, keys)


def drop_forgotten(now: datetime) -> int:
    """For the sweep: takes whose talk never came."""
    old = TalkTake.objects.filter(created_at__lt=now - FORGOTTEN_AFTER)
    lost = old.exclude(talk_id__in=TalkThrough.objects.values("public_id"))
    ids = set(lost.values_list("talk_id", flat=True))
    for talk_id in ids:
        drop_takes(talk_id)
    return len(ids)
