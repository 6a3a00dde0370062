"""What can be asked for, and what of it the asking person may see."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any
from uuid import UUID

from django.db.models import Model, QuerySet

from coachhub.camps.models import HelloRecording
from coachhub.feedback.domain.captions import as_webvtt
from coachhub.feedback.domain.case_covering import MOST_SHEETS
from coachhub.feedback.models import Case, Explanation, TalkFilm, TalkThrough, VoiceNote
from coachhub.progress.models import Takeaway
from coachhub.swings.domain.lines import lines_of
from coachhub.swings.enums import SwingEvent
from coachhub.swings.models import Readout, Swing
from coachhub.videos.models import Clip
from coachhub.web.stills import sheet_key, still_key


@dataclass(frozen=True)
class Kind:
    model: type[Model]
    content_type: str
    key: Callable[[Any], str] = lambda row: ""
    # Instead of a file: a JSON value made for the asking.
    value: Callable[[Any], Any] | None = None
    # Files as they were sent are saved, never shown: their content is a stranger's.
    saved_as: Callable[[Any], str] | None = None
    # Instead of a file: text made for the asking.
    text: Callable[[Any], str | None] | None = None

    def find(self, user: Any, public_id: UUID) -> Any | None:
        rows: QuerySet[Any] = self.model.objects.visible_to(user)  # type: ignore[attr-defined]
        return rows.filter(public_id=public_id).first()


def _ending(clip: Clip) -> str:
    return "webm" if clip.codec == "vp9" else "mp4"


def _original_key(clip: Clip) -> str:
    return "" if clip.original_deleted_at else clip.original_key


def _of_case(case: Case, name: str) -> str:
    return f"{case.folder_key}/{name}" if case.folder_key else ""


def _tracks(swing: Swing) -> Any | None:
    """The lines over the picture of one swing as they are now."""
    readout = Readout.objects.filter(swing=swing, is_current=True).select_related("run", "swing").first()
    return lines_of(readout) if readout else None


def _captions(talk: TalkThrough) -> str | None:
    return as_webvtt(talk.caption, talk.duration_ms) if talk.caption.strip() else None


def _hello_captions(said: HelloRecording) -> str | None:
    return as_webvtt(said.hello.words, said.duration_ms) if said.made_key else None


KINDS: dict[str, Kind] = {
    "clip.rendition": Kind(Clip, "video/mp4", lambda clip: clip.rendition_key),
    "clip.poster": Kind(Clip, "image/jpeg", lambda clip: clip.poster_key),
    "clip.index": Kind(Clip, "application/json", lambda clip: clip.index_key),
    "clip.original": Kind(
        Clip,
        "application/octet-stream",
        _original_key,
        saved_as=lambda clip: f"clip-{clip.number}-{clip.public_id}.{_ending(clip)}",
    ),
    "swing.tracks": Kind(Swing, "application/json", value=_tracks),
    "readout.tracks": Kind(Readout, "application/json", value=lines_of),
    "readout.sheet": Kind(Readout, "image/jpeg", sheet_key),
    **{
        f"readout.still.{event}": Kind(Readout, "image/jpeg", partial(still_key, event=event))
        for event in SwingEvent.values
    },
    "voice.audio": Kind(VoiceNote, "audio/mp4", lambda note: note.audio_key),
    "explanation.audio": Kind(Explanation, "audio/mp4", lambda kept: kept.audio_key),
    "hello.sound": Kind(HelloRecording, "audio/mp4", lambda said: "" if said.is_film else said.made_key),
    "hello.film": Kind(HelloRecording, "video/mp4", lambda said: said.made_key if said.is_film else ""),
    "hello.captions": Kind(HelloRecording, "text/vtt", text=_hello_captions),
    "talk.audio": Kind(TalkThrough, "audio/mp4", lambda talk: talk.audio_key),
    "talk.timeline": Kind(TalkThrough, "application/json", value=lambda talk: talk.timeline or None),
    "talk.captions": Kind(TalkThrough, "text/vtt", text=_captions),
    "case.film": Kind(Case, "video/mp4", partial(_of_case, name="film.mp4")),
    "case.poster": Kind(Case, "image/jpeg", partial(_of_case, name="poster.jpg")),
    **{
        f"case.sheet.{number}": Kind(Case, "image/jpeg", partial(_of_case, name=f"sheet-{number:02d}.jpg"))
        for number in range(1, MOST_SHEETS + 1)
    },
    "takeaway.zip": Kind(
        Takeaway,
        "application/zip",
        lambda row: row.file_key,
        saved_as=lambda row: f"my-data-{row.created_at:%Y-%m-%d}.zip",
    ),
    "talk.film": Kind(
        TalkFilm,
        "video/mp4",
        lambda film: film.film_key,
        saved_as=lambda film: f"talk-{film.talk.public_id}.mp4",
    ),
}
