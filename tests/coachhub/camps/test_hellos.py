from __future__ import annotations

import io
from datetime import timedelta
from typing import Any

import av
import numpy as np
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoCaptureOnCommitCallbacks

from coachhub.accounts.models import Notice
from coachhub.camps.domain import hellos
from coachhub.camps.domain.plan import say_hello
from coachhub.camps.models import Camp, Hello, HelloRecording
from coachhub.camps.tasks import prepare_hello
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.enums import JobState
from coachhub.progress.domain.erasure import erase_person
from coachhub.web.media.links import media_link
from tests import factories
from tests.cast import Cast, make_cast
from tests.coachhub.feedback.test_voice import heard, recording
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def hello(cast: Cast) -> Hello:
    said = say_hello(cast.cohort, "Good to have you here.", by=cast.coach, now=NOW)
    assert said is not None
    return said


def film(seconds: float = 1.5) -> bytes:
    """A grey film that grows lighter, at 30 pictures a second, with a tone of 440 Hz."""
    out = io.BytesIO()
    with av.open(out, "w", format="webm") as container:
        picture = container.add_stream("libvpx-vp9", rate=30, width=320, height=240, pix_fmt="yuv420p")
        sound = container.add_stream("libopus", rate=48_000, layout="mono")
        for i in range(round(30 * seconds)):
            planes = np.full((360, 320), 60 + i, np.uint8)
            container.mux(picture.encode(av.VideoFrame.from_ndarray(planes, format="yuv420p")))
        container.mux(picture.encode(None))
        tone = (0.5 * np.sin(2 * np.pi * 440 * np.arange(round(48_000 * seconds)) / 48_000)).astype("f4")
        for start in range(0, len(tone), 960):
            piece = np.ascontiguousarray(tone[None, start : start + 960])
            frame = av.AudioFrame.from_ndarray(piece, format="fltp", layout="mono")
            frame.sample_rate, frame.pts = 48_000, start
            container.mux(sound.encode(frame))
        container.mux(sound.encode(None))
    return out.getvalue()


def record(hello: Hello, cast: Cast, data: bytes) -> HelloRecording:
    return hellos.record_hello(hello, ContentFile(data), by=cast.coach, now=NOW)


def shown(hello: Hello) -> HelloRecording | None:
    return Hello.objects.get(pk=hello.pk).playable


def test_a_voice_becomes_aac_of_the_same_sound_and_what_was_sent_goes(
    hello: Hello, cast: Cast, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    row = record(hello, cast, recording())
    sent = row.source_key
    assert shown(hello) is None
    with django_capture_on_commit_callbacks(execute=True):
        prepare_hello.run(row.pk)
        prepare_hello.run(row.pk)
    row.refresh_from_db()
    assert (row.job_state, row.is_film, row.attempts, row.source_key) == (JobState.DONE, False, 1, "")
    codec, seconds, tone_hz = heard(row.made_key)
    assert codec == "aac"
    assert abs(seconds - 1.5) < 0.1
    assert abs(tone_hz - 440) <= 2
    assert not default_storage.exists(sent)
    assert shown(hello) == row


def test_a_film_keeps_its_pictures_and_its_sound(hello: Hello, cast: Cast) -> None:
    row = record(hello, cast, film())
    prepare_hello.run(row.pk)
    row.refresh_from_db()
    assert (row.job_state, row.error_text, row.is_film) == (JobState.DONE, "", True)
    assert abs(row.duration_ms - 1500) <= 100
    assert heard(row.made_key)[2] == pytest.approx(440, abs=2)
    with default_storage.open(row.made_key) as file, av.open(file) as made:
        stream = made.streams.video[0]
        assert (stream.codec_context.name, stream.width, stream.height) == ("h264", 320, 240)


def test_the_older_one_plays_until_the_newer_is_ready_and_then_goes(
    hello: Hello, cast: Cast, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    old = record(hello, cast, recording(1.0))
    prepare_hello.run(old.pk)
    old.refresh_from_db()
    new = record(hello, cast, recording(2.0))
    assert shown(hello) == old
    with django_capture_on_commit_callbacks(execute=True):
        prepare_hello.run(new.pk)
    assert shown(hello) == new
    assert list(HelloRecording.objects.all()) == [new]
    assert not default_storage.exists(old.made_key)


def test_what_is_no_recording_is_refused_with_a_sentence_and_the_older_plays_on(
    hello: Hello, cast: Cast
) -> None:
    old = record(hello, cast, recording(1.0))
    prepare_hello.run(old.pk)
    bad = record(hello, cast, b"GIF89a, and nothing that could be heard")
    prepare_hello.run(bad.pk)
    bad.refresh_from_db()
    assert bad.job_state == JobState.FAILED
    assert bad.error_text
    assert shown(hello) == old
    hellos.look_after(NOW + timedelta(minutes=1))
    told = list(Notice.objects.values_list("person", "kind", "about", "path"))
    where = f"/organiser/{cast.camp.public_id}/plan/"
    assert told == [(cast.coach.pk, "unreadable", str(bad.public_id), where)]


@pytest.mark.parametrize(("size", "code"), [(0, "empty"), (hellos.MOST_BYTES + 1, "too_large")])
def test_nothing_and_too_much_are_refused_before_they_are_kept(
    hello: Hello, cast: Cast, size: int, code: str
) -> None:
    given: Any = ContentFile(b"")
    given.size = size
    with pytest.raises(RuleBroken) as broken:
        hellos.record_hello(hello, given, by=cast.coach, now=NOW)
    assert broken.value.code == code
    assert not HelloRecording.objects.exists()


def test_nobody_else_records_it_and_only_who_organises_may_take_it_down(hello: Hello, cast: Cast) -> None:
    row = record(hello, cast, recording(1.0))
    with pytest.raises(RuleBroken):
        hellos.record_hello(hello, ContentFile(b"x"), by=cast.organiser, now=NOW)
    for name in ("coach_elsewhere", "organiser_elsewhere", "student", "guardian"):
        with pytest.raises(RuleBroken):
            hellos.unrecord_hello(hello, by=getattr(cast, name), now=NOW)
    assert HelloRecording.objects.get() == row
    hellos.unrecord_hello(hello, by=cast.organiser, now=NOW)
    assert not HelloRecording.objects.exists()


def test_the_camps_staff_hear_it_on_the_plan_and_only_who_organises_can_delete_it(
    hello: Hello, cast: Cast
) -> None:
    prepare_hello.run(record(hello, cast, recording(1.0)).pk)
    address = reverse("organiser:plan", args=[cast.camp.public_id])
    colleague = factories.make_user("Rafa Colleague")
    factories.join(colleague, cast.cohort, "coach")
    for person, may_delete in ((cast.organiser, True), (colleague, False)):
        client = Client()
        client.force_login(person)
        page = client.get(address).content.decode()
        assert f"Hello from {cast.coach.name} to {cast.cohort.name}" in page and 'class="hello-sound"' in page
        assert ("Delete the recording" in page) == may_delete
    # When the camp is closed a coach says nothing any more, and can still take back what was said.
    Camp.objects.update(state="closed")
    client.force_login(cast.coach)
    page = client.get(address).content.decode()
    assert "Your hello" not in page and "Delete the recording" in page
    client.post(reverse("organiser:hello-unrecord", args=[hello.public_id]))
    assert not HelloRecording.objects.exists()


def test_a_recording_keeps_its_words_until_it_is_deleted(
    hello: Hello, cast: Cast, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    row = record(hello, cast, recording(1.0))
    with pytest.raises(RuleBroken, match="can't hear"):
        say_hello(cast.cohort, " ", by=cast.coach, now=NOW)
    with django_capture_on_commit_callbacks(execute=True):
        hellos.unrecord_hello(hello, by=cast.coach, now=NOW)
        hellos.unrecord_hello(hello, by=cast.coach, now=NOW)
    assert not default_storage.exists(row.source_key)
    assert say_hello(cast.cohort, " ", by=cast.coach, now=NOW) is None
    assert not Hello.objects.exists()


def test_the_cohort_its_staff_and_guardians_hear_it_and_nobody_else(hello: Hello, cast: Cast) -> None:
    record(hello, cast, recording(1.0))
    hearing = {
        name
        for name, person in vars(cast).items()
        if hasattr(person, "is_authenticated") and HelloRecording.objects.visible_to(person).exists()
    }
    reading = {
        name
        for name, person in vars(cast).items()
        if hasattr(person, "is_authenticated") and Hello.objects.visible_to(person).exists()
    }
    assert hearing == reading
    assert hearing == {"student", "cohort_mate", "minor", "guardian", "coach", "organiser"}


def test_who_may_hear_it_gets_the_file_and_its_words_as_captions(hello: Hello, cast: Cast) -> None:
    row = record(hello, cast, film(1.0))
    prepare_hello.run(row.pk)
    row.refresh_from_db()
    for name, status in (("minor", 200), ("guardian", 200), ("coach_elsewhere", 404), ("outsider", 404)):
        person = getattr(cast, name)
        client = Client()
        client.force_login(person)
        assert client.get(media_link("hello.film", row, person)).status_code == status, name
        captions = client.get(media_link("hello.captions", row, person))
        assert captions.status_code == status, name
        if status == 200:
            said = b"".join(captions)
            # W3C WebVTT: the file begins with its name, and cues have a time line.
            assert said.startswith(b"WEBVTT") and b" --> 00:0" in said and b"Good to have you here." in said
        # Made as a film, it is no sound.
        assert client.get(media_link("hello.sound", row, person)).status_code == 404


def test_it_goes_with_the_camps_films_and_not_a_day_before(
    hello: Hello, cast: Cast, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    row = record(hello, cast, recording(1.0))
    prepare_hello.run(row.pk)
    row.refresh_from_db()
    camp = cast.camp
    last = camp.ends_on + timedelta(days=camp.retention_days)
    noon = NOW.replace(year=last.year, month=last.month, day=last.day, hour=12)
    organiser = Client()
    organiser.force_login(cast.organiser)
    preview = reverse("data:retention", args=[camp.public_id])
    assert f"deleted after {last.day} {last:%B %Y}" in organiser.get(preview).content.decode()
    hellos.look_after(noon.astimezone(camp.zone))
    assert HelloRecording.objects.exists()
    with django_capture_on_commit_callbacks(execute=True):
        hellos.look_after(noon + timedelta(days=1))
    assert not HelloRecording.objects.exists()
    assert not default_storage.exists(row.made_key)
    assert Hello.objects.get() == hello
    assert "recorded hello" not in organiser.get(preview).content.decode()


def test_a_coach_who_is_deleted_takes_hello_and_recording_along(
    hello: Hello, cast: Cast, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    row = record(hello, cast, recording(1.0))
    prepare_hello.run(row.pk)
    row.refresh_from_db()
    with django_capture_on_commit_callbacks(execute=True):
        erase_person(cast.coach, by=cast.coach, now=NOW)
    assert not Hello.objects.exists()
    assert not HelloRecording.objects.exists()
    assert not default_storage.exists(row.made_key)


def test_a_recording_that_a_dead_worker_left_is_sent_again(
    hello: Hello, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = record(hello, cast, recording(1.0))
    gone = NOW + timedelta(minutes=5)
    HelloRecording.objects.update(job_state=JobState.RUNNING, attempts=1, lease_until=NOW)
    sent: list[int] = []
    monkeypatch.setattr(prepare_hello, "delay", sent.append)
    assert hellos.look_after(gone) == 1
    assert sent == [row.pk]
