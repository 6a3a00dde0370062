"""Talk-throughs as plain data for the pages: the coach's list and the student's replay read the same."""

from __future__ import annotations

from typing import Any

from coachhub.accounts.models import User
from coachhub.common.enums import JobState
from coachhub.feedback.domain.beside import hand_in
from coachhub.feedback.models import Review, TalkFilm, TalkThrough
from coachhub.swings.models import Readout, Swing
from coachhub.videos.models import Clip
from coachhub.web.media.links import media_link
from coachhub.web.player import PlayerSwing, hand_of, pinned_swing, whole_clip


def talks_of(review: Review, user: User, *, only_ready: bool = False) -> list[dict[str, Any]]:
    talks = TalkThrough.objects.filter(review=review).select_related("film")
    if only_ready:
        talks = talks.filter(job_state=JobState.DONE)
    return [_talk(talk, review, user) for talk in talks]


def is_waiting(talks: list[dict[str, Any]]) -> bool:
    """Whether looking again in a moment will show more."""
    under_way = (JobState.WAITING, JobState.RUNNING)
    return any(
        talk["state"] in under_way or (talk["film"] and talk["film"]["state"] in under_way) for talk in talks
    )


def _talk(talk: TalkThrough, review: Review, user: User) -> dict[str, Any]:
    is_ready = talk.job_state == JobState.DONE
    return {
        "id": str(talk.public_id),
        "state": talk.job_state,
        "error": talk.error_text,
        "duration_ms": talk.duration_ms,
        "caption": talk.caption,
        "src": media_link("talk.audio", talk, user) if is_ready else "",
        "timeline": media_link("talk.timeline", talk, user) if is_ready else "",
        "captions": media_link("talk.captions", talk, user) if is_ready and talk.caption.strip() else "",
        "film": _film(getattr(talk, "film", None), user),
        "pinned": {"id": f"talk-{talk.public_id}", "swings": _pinned(talk, review, user)}
        if is_ready
        else None,
    }


def _film(film: TalkFilm | None, user: User) -> dict[str, Any] | None:
    if film is None:
        return None
    return {
        "state": film.job_state,
        "percent": film.percent,
        "error": film.error_text,
        "src": media_link("talk.film", film, user) if film.film_key else "",
        "size": film.size,
    }


def _pinned(talk: TalkThrough, review: Review, user: User) -> dict[str, Any]:
    """Events and lines of each swing as they were when the coach spoke, and what stood beside it."""
    own: dict[str, str | None] = talk.pins.get("swings", {})
    beside: dict[str, dict[str, Any]] = talk.pins.get("beside", {})
    wanted = [*own.values(), *(pin["readout"] for pin in beside.values())]
    found = Readout.objects.filter(public_id__in=filter(None, wanted)).select_related("run", "swing")
    readouts = {str(readout.public_id): readout for readout in found}
    hand = hand_of(review.submission.student_id)
    swings = {}
    for swing in Swing.objects.filter(public_id__in=own).select_related("clip__submission"):
        ident = str(swing.public_id)
        entry = pinned_swing(swing, readouts.get(own[ident] or ""), user, hand=hand, label="")
        swings[ident] = {"events": entry["events"], "tracks": entry["tracks"]}
    return {"swings": swings, "beside": _beside(beside, readouts, user)}


def _beside(
    pins: dict[str, dict[str, Any]], readouts: dict[str, Readout], user: User
) -> dict[str, PlayerSwing]:
    clips = Clip.objects.visible_to(user).select_related("submission", "reference")
    shown: dict[str, PlayerSwing] = {}
    for swing in Swing.objects.filter(public_id__in=pins, clip__in=clips).select_related(
        "clip__submission", "clip__reference"
    ):
        pin = pins[str(swing.public_id)]
        shown[str(swing.public_id)] = pinned_swing(
            swing, readouts.get(pin["readout"] or ""), user, hand=hand_in(swing.clip), label=pin["words"]
        )
    for clip in clips.filter(public_id__in=pins):
        shown[str(clip.public_id)] = whole_clip(clip, user, hand_in(clip))
    return shown
