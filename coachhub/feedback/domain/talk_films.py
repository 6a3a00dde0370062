"""A talk as a video file to take away: ordered by whoever may see the talk, made by a worker."""

from __future__ import annotations

import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from analysis.adapters.sandbox import ChildError, Limits
from coachhub.accounts.models import User
from coachhub.common.domain import jobs
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit
from coachhub.common.domain.recordings import Clock, fetch, give_up, keep_made, work_in_child
from coachhub.common.enums import JobState
from coachhub.feedback.models import TalkFilm, TalkThrough
from coachhub.swings.domain.lines import lines_of
from coachhub.swings.models import Readout, Swing
from coachhub.videos.models import Clip

# Ten minutes of talk at real time on one core leave room for a busy machine.
LIMITS = Limits(cpu_s=1500, memory_bytes=2 * 1024**3, file_bytes=512 * 1024**2, wall_s=1080)
FAILED = "The film could not be made. Order it again; if it fails once more, tell the organiser."


@transaction.atomic
def order_film(talk: TalkThrough, *, by: User, now: datetime) -> TalkFilm:
    """Have the film made; a film that is there or under way is that film, one that failed is tried again."""
    if talk.job_state != JobState.DONE:
        raise RuleBroken("not_ready", "The talk is still being prepared. Order the film in a moment.")
    film, is_new = TalkFilm.objects.get_or_create(talk=talk, defaults={"queued_at": now, "created_at": now})
    again = TalkFilm.objects.filter(pk=film.pk, job_state=JobState.FAILED).update(
        job_state=JobState.WAITING, attempts=0, queued_at=now, error_code="", error_text=""
    )
    if is_new or again:
        record("talk.film_ordered", film, by=by, now=now, scope=talk.review.submission.camp.public_id)
        after_commit(_send, film.pk)
    film.refresh_from_db()
    return film


def _send(film_id: int) -> None:
    from coachhub.feedback.tasks import film_talk

    film_talk.delay(film_id)


def make_film(film_id: int, *, clock: Clock) -> bool:
    """Claim the film and make it in the confined child. False: somebody else has it, or it is over."""
    film = jobs.claim(TalkFilm.objects.all(), film_id, now=clock(), lease=settings.JOB_LEASE)
    if film is None:
        return False
    with tempfile.TemporaryDirectory(prefix="film-") as folder:
        try:
            _make(film, Path(folder), clock)
        except ChildError as problem:
            give_up(film, problem, now=clock(), sentence=FAILED)
        else:
            made = Path(folder) / "film.mp4"
            keep_made(
                film,
                made,
                f"talks/films/{film.public_id.hex}-{film.attempts}.mp4",
                field="film_key",
                size=made.stat().st_size,
                now=clock(),
            )
    return True


def _make(film: TalkFilm, folder: Path, clock: Clock) -> None:
    arguments = {
        "clips": clips_of_talk(film.talk, folder),
        "timeline": film.talk.timeline,
        "sound": str(fetch(film.talk.audio_key, folder / "talk.m4a")),
        "out_dir": str(folder),
    }
    work_in_child(film, "analysis.adapters.talk_film:film_to_dir", arguments, limits=LIMITS, clock=clock)


def clips_of_talk(talk: TalkThrough, folder: Path) -> dict[str, dict[str, Any]]:
    """The renditions of the swings that the talk shows, each clip fetched once, with the lines of its readouts."""
    pins = {
        **talk.pins.get("swings", {}),
        **{ident: pin["readout"] for ident, pin in talk.pins.get("beside", {}).items()},
    }
    found: dict[str, dict[str, Any]] = {}
    for ident, readout in pins.items():
        swing = Swing.objects.filter(public_id=ident).select_related("clip").first()
        clip = swing.clip if swing else Clip.objects.filter(public_id=ident).first()
        if clip is None or not clip.rendition_key:
            continue
        path = folder / f"clip-{clip.pk}.mp4"
        if not path.exists():
            fetch(clip.rendition_key, path)
        pinned = Readout.objects.filter(public_id=readout).select_related("run", "swing").first()
        found[ident] = {
            "path": str(path),
            "span_us": [0, round((clip.duration_s or 0) * 1e6)],
            "tracks": lines_of(pinned) if pinned else None,
            "address_us": _address_us(pinned),
        }
    return found


def _address_us(readout: Readout | None) -> int:
    """When the golfer stands at the ball; the swing's beginning where that was not found."""
    data = readout.data if readout is not None else {}
    found = (data.get("events") or {}).get("address") or {}
    seconds = found.get("t")
    return round((data.get("start_s") or 0.0 if seconds is None else seconds) * 1e6)


def requeue_lost_films(now: datetime) -> int:
    """For the sweep."""
    ids = jobs.requeue_lost(
        TalkFilm.objects.all(), now=now, most=settings.JOB_MAX_ATTEMPTS, silent_for=settings.JOB_LEASE
    )
    for film_id in ids:
        _send(film_id)
    return len(ids)
