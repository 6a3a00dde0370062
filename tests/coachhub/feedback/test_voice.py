from __future__ import annotations

import io
from datetime import timedelta
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.common.domain import recordings
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.enums import JobState
from coachhub.feedback.domain import voice
from coachhub.feedback.domain.reviews import claim_review
from coachhub.feedback.models import Review, VoiceNote
from coachhub.feedback.tasks import convert_voice
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.integration]


def recording(
    seconds: float = 1.5, *, form: str = "webm", codec: str = "libopus", video: bool = False
) -> bytes:
    """A 440 Hz tone at half of full scale, as a browser's recorder would pack it."""
    rate = 48_000
    out = io.BytesIO()
    with av.open(out, "w", format=form) as container:
        stream = container.add_stream(codec, rate=rate, layout="mono")
        if video:
            picture = container.add_stream("libvpx", rate=10, width=64, height=64, pix_fmt="yuv420p")
        tone = (0.5 * np.sin(2 * np.pi * 440 * np.arange(round(seconds * rate)) / rate)).astype(np.float32)
        for start in range(0, len(tone), 960):
            frame = av.AudioFrame.from_ndarray(
                np.ascontiguousarray(tone[None, start : start + 960]), format="fltp", layout="mono"
            )
            frame.sample_rate, frame.pts = rate, start
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
        if video:
            for i in range(3):
                still = av.VideoFrame.from_ndarray(np.zeros((96, 64), np.uint8), format="yuv420p")
                still.pts = i
                container.mux(picture.encode(still))
            container.mux(picture.encode(None))
    return out.getvalue()


@pytest.fixture
def coach() -> User:
    return factories.make_user("Ada Coach")


@pytest.fixture
def review(coach: User) -> Review:
    cohort = factories.make_cohort()
    factories.join(coach, cohort, Role.COACH)
    submission = factories.make_submission(factories.make_student(cohort), cohort)
    return claim_review(factories.make_review(submission), by=coach, now=NOW)


def add(review: Review, coach: User, data: bytes, **fields: Any) -> VoiceNote:
    given = {"swing": None, "at_us": 0, "caption": ""} | fields
    return voice.add_voice_note(review, ContentFile(data), by=coach, now=NOW, **given)


def heard(key: str) -> tuple[str, float, int]:
    """Codec, seconds and the strongest frequency of a stored sound, by a decoder and a Fourier transform."""
    with default_storage.open(key) as file, av.open(file) as container:
        stream = container.streams.audio[0]
        codec = stream.codec_context.codec.canonical_name
        samples = np.concatenate([frame.to_ndarray()[0] for frame in container.decode(stream)])
    spectrum = np.abs(np.fft.rfft(samples))
    return codec, len(samples) / 48_000, round(float(np.argmax(spectrum)) * 48_000 / len(samples))


@pytest.mark.parametrize(("form", "codec"), [("webm", "libopus"), ("mp4", "aac")])
def test_a_recording_becomes_aac_of_the_same_sound(
    review: Review, coach: User, form: str, codec: str
) -> None:
    note = add(review, coach, recording(form=form, codec=codec), caption="keep the tempo")
    convert_voice.run(note.pk)
    note.refresh_from_db()
    assert (note.job_state, note.error_text) == (JobState.DONE, "")
    assert abs(note.duration_ms - 1500) <= 60
    found_codec, seconds, tone_hz = heard(note.audio_key)
    assert found_codec == "aac"
    assert abs(seconds - 1.5) < 0.1
    assert abs(tone_hz - 440) <= 2


def test_the_work_is_sent_after_the_commit_and_running_it_twice_is_once(
    review: Review,
    coach: User,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sent: list[int] = []
    monkeypatch.setattr(convert_voice, "delay", sent.append)
    with django_capture_on_commit_callbacks(execute=True):
        note = add(review, coach, recording())
        assert sent == []
    assert sent == [note.pk]
    convert_voice.run(note.pk)
    first = VoiceNote.objects.get(pk=note.pk)
    convert_voice.run(note.pk)
    second = VoiceNote.objects.get(pk=note.pk)
    assert (second.attempts, second.audio_key) == (first.attempts, first.audio_key) == (1, first.audio_key)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"MZ this is no sound" * 20, "can't be read"),
        (b"#EXTM3U\nhttp://127.0.0.1/x.ts\n", "can't be read"),
        (recording(0.1), "too short"),
        (recording(1.0)[:300], "can't be read"),
        (recording(1.0, video=True), "can't be read"),
    ],
)
def test_what_is_no_recording_ends_with_a_sentence(
    review: Review, coach: User, data: bytes, words: str
) -> None:
    note = add(review, coach, data)
    convert_voice.run(note.pk)
    note.refresh_from_db()
    assert note.job_state == JobState.FAILED
    assert words in note.error_text
    assert note.audio_key == ""


def test_empty_large_and_too_many_are_refused_at_the_door(
    review: Review, coach: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(RuleBroken, match="Nothing was recorded"):
        add(review, coach, b"")
    monkeypatch.setattr(voice, "MOST_BYTES", 10)
    with pytest.raises(RuleBroken, match="too long"):
        add(review, coach, b"x" * 11)
    for _ in range(voice.MOST_NOTES):
        add(review, coach, b"x")
    with pytest.raises(RuleBroken, match="at most 6"):
        add(review, coach, b"x")
    assert VoiceNote.objects.count() == voice.MOST_NOTES


def test_only_the_coach_who_holds_the_review_records(review: Review) -> None:
    other = factories.make_user()
    factories.join(other, review.submission.cohort, Role.COACH)
    with pytest.raises(RuleBroken, match="is reviewing this one"):
        add(review, other, b"x")
    assert not VoiceNote.objects.exists()


def test_a_removed_recording_leaves_no_file(
    review: Review,
    coach: User,
    settings: Settings,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    note = add(review, coach, recording())
    convert_voice.run(note.pk)
    note.refresh_from_db()
    with django_capture_on_commit_callbacks(execute=True):
        voice.remove_voice_note(note, by=coach, now=NOW)
    assert not VoiceNote.objects.exists()
    assert not [path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()]


def test_a_recording_removed_while_it_is_converted_leaves_no_file(
    review: Review, coach: User, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    note = add(review, coach, recording())
    real = recordings.run_limited

    def removed_meanwhile(*args: Any, **kwargs: Any) -> Any:
        answer = real(*args, **kwargs)
        VoiceNote.objects.filter(pk=note.pk).delete()
        return answer

    monkeypatch.setattr(recordings, "run_limited", removed_meanwhile)
    convert_voice.run(note.pk)
    assert not list((Path(settings.MEDIA_ROOT) / "voice" / "playable").glob("*"))


def test_the_words_are_kept_and_checked(review: Review, coach: User) -> None:
    note = add(review, coach, b"x")
    voice.caption_voice_note(note, " slow back ", by=coach, now=NOW)
    note.refresh_from_db()
    assert note.caption == "slow back"
    with pytest.raises(RuleBroken, match="8000"):
        voice.caption_voice_note(note, "x" * 8001, by=coach, now=NOW)


def test_a_note_left_by_a_dead_worker_is_sent_again(
    review: Review, coach: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent: list[int] = []
    monkeypatch.setattr(convert_voice, "delay", sent.append)
    note = add(review, coach, recording())
    VoiceNote.objects.filter(pk=note.pk).update(
        job_state=JobState.RUNNING, attempts=1, lease_until=NOW - timedelta(seconds=1)
    )
    assert voice.requeue_lost_notes(NOW) == 1
    assert sent == [note.pk]
    convert_voice.run(note.pk)
    note.refresh_from_db()
    assert (note.job_state, note.attempts) == (JobState.DONE, 2)
