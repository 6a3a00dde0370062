"""Talk-throughs: put together from takes and a script, joined by a worker, pinned to what was on screen."""

from __future__ import annotations

import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Q

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
from coachhub.feedback.domain.beside import current_readout, find_beside
from coachhub.feedback.domain.claims import refuse_unless_held
from coachhub.feedback.domain.talk_script import beside_of, checked_script, joined, length_of, takes_of
from coachhub.feedback.domain.talk_takes import drop_takes
from coachhub.feedback.domain.texts import text_for
from coachhub.feedback.models import Review, TalkTake, TalkThrough
from coachhub.swings.domain.whole_clip import swings_by_id
from coachhub.swings.models import Readout
from coachhub.videos.models import Reference

MOST_TALKS = 3
LIMITS = Limits(cpu_s=180, memory_bytes=1536 * 1024**2, file_bytes=64 * 1024**2, wall_s=240)
UNREADABLE = "This talk can't be read. Record it again."


@transaction.atomic
def keep_talk(
    review: Review, talk_id: UUID, script: Any, *, caption: str = "", by: User, now: datetime
) -> TalkThrough:
    """Put a talk together once its takes are here. The same talk sent twice is kept once."""
    review = Review.objects.select_for_update().get(pk=review.pk)
    refuse_unless_held(review, by)
    kept = TalkThrough.objects.filter(public_id=talk_id, review=review).first()
    if kept is not None:
        return kept
    if review.talks.count() >= MOST_TALKS:
        raise RuleBroken(
            "too_many", f"An answer holds at most {MOST_TALKS} talks. Delete one before the next."
        )
    shown = _shown(review, script, now)
    checked = checked_script(script, shown)
    _refuse_missing(review, talk_id, checked)
    talk = TalkThrough.objects.create(
        public_id=talk_id,
        review=review,
        by=by,
        script=checked,
        pins={"swings": shown, "beside": _beside(review, checked, by)},
        duration_ms=length_of(checked["cuts"]),
        caption=text_for(TalkThrough, "caption", caption, label="words of the talk"),
        queued_at=now,
        created_at=now,
    )
    record("talk.recorded", talk, by=by, now=now, scope=review.submission.camp.public_id)
    after_commit(_send, talk.pk)
    return talk


def _shown(review: Review, script: Any, now: datetime) -> dict[str, str | None]:
    """Each swing of the submission with the readout that is on screen now."""
    events = script.get("events") if isinstance(script, dict) else None
    named = {_uuid(event.get("swing")) for event in events or () if isinstance(event, dict)} - {None}
    # A clip where nothing was measured is shown under its own id; it gets a swing of its own for that.
    swings = swings_by_id(review.submission, {one for one in named if one is not None}, now=now)
    current = Readout.objects.filter(swing__in=swings.values(), is_current=True)
    readouts = {readout.swing_id: str(readout.public_id) for readout in current}
    return {str(ident): readouts.get(swing.pk) for ident, swing in swings.items()}


def _beside(review: Review, script: dict[str, Any], by: User) -> dict[str, Any]:
    """Each swing that stood beside one of these, with its words and the readout of now."""
    pinned: dict[str, Any] = {}
    for ident in sorted(beside_of(script)):
        choice = find_beside(review, UUID(ident), by=by)
        if choice is None:
            raise RuleBroken("beside", "A swing that stood beside this one is gone. Record the talk anew.")
        readout = current_readout(choice.swing)
        pinned[ident] = {"words": choice.words[:200], "readout": str(readout.public_id) if readout else None}
    return pinned


def show_beside(review: Review) -> None:
    """The answer goes out: the student may see the references that its talks show."""
    idents = {
        ident for pins in review.talks.values_list("pins", flat=True) for ident in pins.get("beside", {})
    }
    shown = Q(clip__public_id__in=idents) | Q(clip__swings__public_id__in=idents)
    for reference in Reference.objects.filter(shown).distinct():
        reference.shown_to.add(review.submission.student)


def _uuid(value: Any) -> UUID | None:
    try:
        return UUID(str(value))
    except ValueError:
        return None


def _refuse_missing(review: Review, talk_id: UUID, script: dict[str, Any]) -> None:
    here = set(TalkTake.objects.filter(review=review, talk_id=talk_id).values_list("number", flat=True))
    if set(takes_of(script)) - here:
        raise RuleBroken("takes_missing", "Some of the recording is still on its way. It goes on by itself.")


def _send(talk_id: int) -> None:
    from coachhub.feedback.tasks import join_talk

    join_talk.delay(talk_id)


@transaction.atomic
def caption_talk(talk: TalkThrough, caption: str, *, by: User, now: datetime) -> TalkThrough:
    """Put the talk's words in writing, for those who can't hear it."""
    refuse_unless_held(Review.objects.get(pk=talk.review_id), by)
    talk.caption = text_for(TalkThrough, "caption", caption, label="words of the talk")
    talk.save(update_fields=["caption"])
    return talk


@transaction.atomic
def remove_talk(talk: TalkThrough, *, by: User, now: datetime) -> None:
    review = Review.objects.get(pk=talk.review_id)
    refuse_unless_held(review, by)
    record("talk.removed", talk, by=by, now=now, scope=review.submission.camp.public_id)
    film = getattr(talk, "film", None)
    keys = [talk.audio_key, film.film_key if film else ""]
    drop_takes(talk.public_id)
    talk.delete()
    after_commit(forget_files, keys)


def join_takes(talk_id: int, *, clock: Clock) -> bool:
    """Claim the talk and join its takes in the confined child. False: somebody else has it, or it is over."""
    talk = jobs.claim(TalkThrough.objects.all(), talk_id, now=clock(), lease=settings.JOB_LEASE)
    if talk is None:
        return False
    with tempfile.TemporaryDirectory(prefix="talk-") as folder:
        try:
            facts = _join(talk, Path(folder), clock)
        except ChildError as problem:
            give_up(talk, problem, now=clock(), sentence=UNREADABLE)
        else:
            keep_made(
                talk,
                Path(folder) / "talk.m4a",
                f"talks/playable/{talk.public_id.hex}-{talk.attempts}.m4a",
                field="audio_key",
                duration_ms=facts["duration_ms"],
                timeline=joined(talk.script) | {"zeros": facts["zeros"]},
                now=clock(),
            )
    return True


def _join(talk: TalkThrough, folder: Path, clock: Clock) -> dict[str, Any]:
    takes = TalkTake.objects.filter(talk_id=talk.public_id, number__in=takes_of(talk.script))
    paths = {str(take.number): str(fetch(take.source_key, folder / f"take-{take.number}")) for take in takes}
    arguments = {"takes": paths, "cuts": talk.script["cuts"], "out_dir": str(folder)}
    return work_in_child(talk, "analysis.adapters.talk:talk_to_dir", arguments, limits=LIMITS, clock=clock)


def requeue_lost_talks(now: datetime) -> int:
    """For the sweep."""
    ids = jobs.requeue_lost(
        TalkThrough.objects.all(), now=now, most=settings.JOB_MAX_ATTEMPTS, silent_for=settings.JOB_LEASE
    )
    for talk_id in ids:
        _send(talk_id)
    return len(ids)
