"""What a coach explains again and again: a voice note is kept under a title and put into later answers."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.core.files import File
from django.core.files.storage import default_storage
from django.db import transaction
from django.db.models import F

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit
from coachhub.common.domain.recordings import forget_files
from coachhub.common.enums import JobState
from coachhub.feedback.domain.claims import refuse_unless_held
from coachhub.feedback.domain.texts import text_for
from coachhub.feedback.domain.voice import refuse_one_more
from coachhub.feedback.models import Explanation, Review, VoiceNote
from coachhub.swings.models import Swing

MOST_EXPLANATIONS = 40


@transaction.atomic
def keep_explanation(note: VoiceNote, title: str, *, caption: str, by: User, now: datetime) -> Explanation:
    """Keep a copy of an own recording for other answers."""
    review = Review.objects.get(pk=note.review_id)
    if by.pk not in (review.claimed_by_id, review.published_by_id):
        raise RuleBroken("not_yours", "Only the coach who recorded it can keep it for other answers.")
    if note.job_state != JobState.DONE:
        raise RuleBroken("not_ready", "This recording is still being prepared. Keep it in a moment.")
    title = text_for(Explanation, "title", title, label="title")
    _refuse_unfit(title, by)
    kept = Explanation.objects.create(
        coach=by,
        title=title,
        caption=text_for(Explanation, "caption", caption, label="words of the recording"),
        audio_key=_copy(note.audio_key, "voice/explanations"),
        duration_ms=note.duration_ms,
        created_at=now,
    )
    record("explanation.kept", kept, by=by, now=now)
    return kept


def _refuse_unfit(title: str, by: User) -> None:
    own = Explanation.objects.visible_to(by)
    if not title:
        raise RuleBroken("no_title", "Give it a title, so that you find it again.")
    if own.filter(title=title).exists():
        raise RuleBroken("twice", "You keep one under this title already. Choose another title.")
    if own.count() >= MOST_EXPLANATIONS:
        raise RuleBroken("too_many", f"You keep {MOST_EXPLANATIONS} already. Delete one before the next.")


@transaction.atomic
def put_in(
    explanation: Explanation, review: Review, *, swing: Swing | None, at_us: int, by: User, now: datetime
) -> VoiceNote:
    """Copy it into the answer as a recording of its own: what becomes of either later leaves the other as it is."""
    review = Review.objects.select_for_update().get(pk=review.pk)
    refuse_unless_held(review, by)
    refuse_one_more(review)
    note = VoiceNote.objects.create(
        review=review,
        swing=swing,
        at_us=max(0, at_us),
        caption=explanation.caption,
        audio_key=_copy(explanation.audio_key, "voice/playable"),
        duration_ms=explanation.duration_ms,
        job_state=JobState.DONE,
        queued_at=now,
        finished_at=now,
        created_at=now,
    )
    Explanation.objects.filter(pk=explanation.pk).update(uses=F("uses") + 1)
    record("voice.recorded", note, by=by, now=now, scope=review.submission.camp.public_id)
    return note


@transaction.atomic
def forget_explanation(explanation: Explanation, *, by: User, now: datetime) -> None:
    """The answers that it was put into keep their copies."""
    if explanation.coach_id != by.pk:
        raise RuleBroken("not_yours", "Only the coach who kept it can delete it.")
    record("explanation.forgotten", explanation, by=by, now=now)
    key = explanation.audio_key
    explanation.delete()
    after_commit(forget_files, [key])


def _copy(key: str, folder: str) -> str:
    with default_storage.open(key) as stored:
        return default_storage.save(f"{folder}/{uuid.uuid4().hex}.m4a", File(stored))
