"""Films, sound and pictures of a person, as they are packed to be taken along."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from coachhub.accounts.models import User
from coachhub.camps.models import HelloRecording
from coachhub.feedback.models import Case, Explanation, TalkFilm, TalkThrough, VoiceNote
from coachhub.swings.domain.files import pictures_of_clip
from coachhub.videos.models import Clip

STILL = re.compile(r"still_(\d+)_(\w+)\.jpg")
KINDS = {".mp4": "film", ".webm": "film", ".m4a": "sound", ".jpg": "picture", ".png": "picture"}


def media_of(person: User) -> Iterator[tuple[str, str, str]]:
    """Name in the archive, key in storage, and what it is."""
    for clip in Clip.objects.filter(submission__student=person).select_related("submission").order_by("pk"):
        key = clip.rendition_key if clip.original_deleted_at else clip.original_key
        assert clip.submission is not None
        day = clip.submission.range_day
        what = f"Clip {clip.number} of {day.day} {day:%B %Y}"
        start = f"media/{clip.submission.range_day}-clip-{clip.number}-{clip.pk}"
        yield f"{start}.mp4", key, what
        for picture in sorted(pictures_of_clip(clip)):
            name = Path(picture).name
            yield f"{start}-{name}", picture, f"{what}, {_picture_words(name)}"
    for clip in Clip.objects.filter(reference__owner=person).order_by("pk"):
        yield f"media/library-{clip.pk}.mp4", clip.rendition_key or clip.original_key, "Your library"
    for kept in Explanation.objects.filter(coach=person).order_by("pk"):
        yield f"media/explanation-{kept.pk}.m4a", kept.audio_key, f"Your explanation: {kept.title}"
    for said in HelloRecording.objects.filter(hello__by=person).exclude(made_key="").order_by("pk"):
        yield f"media/hello-{said.pk}{Path(said.made_key).suffix}", said.made_key, "Your hello to a cohort"
    of_review = {"review__submission__student": person}
    for note in VoiceNote.objects.filter(**of_review).exclude(audio_key="").order_by("pk"):
        yield f"media/voice-{note.pk}.m4a", note.audio_key, "Voice note of a coach"
    for talk in TalkThrough.objects.filter(**of_review).exclude(audio_key="").order_by("pk"):
        yield f"media/talk-{talk.pk}.m4a", talk.audio_key, "Talk-through of a coach"
    for film in TalkFilm.objects.filter(talk__review__submission__student=person).exclude(film_key=""):
        yield f"media/talk-{film.talk_id}.mp4", film.film_key, "Film of a talk-through"
    for case in Case.objects.filter(student=person).exclude(folder_key=""):
        yield f"media/lesson-{case.pk}.mp4", f"{case.folder_key}/film.mp4", "Lesson that shows you, covered"


def _picture_words(name: str) -> str:
    still = STILL.fullmatch(name)
    return f"swing {still[1]}: {still[2].replace('_', ' ')}" if still else "its moments on one sheet"


def kind_of(name: str) -> str:
    """How a page shows the file."""
    return KINDS.get(Path(name).suffix, "")
