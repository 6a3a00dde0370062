"""Voice notes: recorded in the browser, kept at once, made playable everywhere by a worker."""

from __future__ import annotations

import tempfile
import uuid
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.core.files import File
from django.core.files.storage import default_storage
from django.db import transaction

from analysis.adapters.sandbox import ChildError, Limits
from coachhub.accounts.models import User
from coachhub.common.domain import jobs
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit
from coachhub.common.domain.recordings import (
    Clock,
    fetch,
    forget_files,
    give_up,
    keep_made,
    work_in_child,
)
from coachhub.feedback.domain.claims import refuse_unless_held
from coachhub.feedback.domain.texts import text_for
from coachhub.feedback.models import Review, VoiceNote
from coachhub.swings.models import Swing

MOST_NOTES = 6
MOST_BYTES = 20 * 1024 * 1024
LIMITS = Limits(cpu_s=90, memory_bytes=1024**3, file_bytes=64 * 1024**2, wall_s=120)
UNREADABLE = "This recording can't be read. Record it again."


@transaction.atomic
def add_voice_note(
    review: Review,
    recording: File[bytes],
    *,
    swing: Swing | None,
    at_us: int,
    caption: str,
    by: User,
    now: datetime,
) -> VoiceNote:
    """Keep a recording with the review; a worker checks and converts it after the commit."""
    review = Review.objects.select_for_update().get(pk=review.pk)
    refuse_unless_held(review, by)
    _refuse_unfit(review, recording)
    key = default_storage.save(f"voice/recorded/{uuid.uuid4().hex}", recording)
    note = VoiceNote.objects.create(
        review=review,
        swing=swing,
        at_us=max(0, at_us),
        source_key=key,
        caption=text_for(VoiceNote, "caption", caption, label="words of the recording"),
        queued_at=now,
        created_at=now,
    )
    record("voice.recorded", note, by=by, now=now, scope=review.submission.camp.public_id)
    after_commit(_send, note.pk)
    return note


def _refuse_unfit(review: Review, recording: File[bytes]) -> None:
    if not recording.size:
        raise RuleBroken("empty", "Nothing was recorded. Check that the microphone is on and record again.")
    if recording.size > MOST_BYTES:
        raise RuleBroken("too_large", "The recording is too long. Keep each one under ten minutes.")
    refuse_one_more(review)


def refuse_one_more(review: Review) -> None:
    if review.voice_notes.count() >= MOST_NOTES:
        raise RuleBroken(
            "too_many", f"An answer holds at most {MOST_NOTES} recordings. Delete one before the next."
        )


def _send(note_id: int) -> None:
    from coachhub.feedback.tasks import convert_voice

    convert_voice.delay(note_id)


@transaction.atomic
def caption_voice_note(note: VoiceNote, caption: str, *, by: User, now: datetime) -> VoiceNote:
    """Put the recording's words in writing, for those who can't hear it."""
    refuse_unless_held(Review.objects.get(pk=note.review_id), by)
    note.caption = text_for(VoiceNote, "caption", caption, label="words of the recording")
    note.save(update_fields=["caption"])
    return note


@transaction.atomic
def remove_voice_note(note: VoiceNote, *, by: User, now: datetime) -> None:
    review = Review.objects.get(pk=note.review_id)
    refuse_unless_held(review, by)
    record("voice.removed", note, by=by, now=now, scope=review.submission.camp.public_id)
    keys = [note.source_key, note.audio_key]
    note.delete()
    after_commit(forget_files, keys)


def convert_voice_note(note_id: int, *, clock: Clock) -> bool:
    """Claim the recording and convert it in the confined child. False: somebody else has it, or it is over."""
    note = jobs.claim(VoiceNote.objects.all(), note_id, now=clock(), lease=settings.JOB_LEASE)
    if note is None:
        return False
    with tempfile.TemporaryDirectory(prefix="voice-") as folder:
        source = Path(folder) / "recording"
        try:
            facts = work_in_child(
                note,
                "analysis.adapters.voice:voice_to_dir",
                {"path": str(fetch(note.source_key, source)), "out_dir": folder},
                limits=LIMITS,
                clock=clock,
            )
        except ChildError as problem:
            give_up(note, problem, now=clock(), sentence=UNREADABLE)
        else:
            keep_made(
                note,
                Path(folder) / "voice.m4a",
                f"voice/playable/{note.public_id.hex}-{note.attempts}.m4a",
                field="audio_key",
                duration_ms=facts["duration_ms"],
                now=clock(),
            )
    return True


def requeue_lost_notes(now: datetime) -> int:
    """For the sweep."""
    ids = jobs.requeue_lost(
        VoiceNote.objects.all(), now=now, most=settings.JOB_MAX_ATTEMPTS, silent_for=settings.JOB_LEASE
    )
    for note_id in ids:
        _send(note_id)
    return len(ids)
