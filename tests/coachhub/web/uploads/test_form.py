from __future__ import annotations

import re
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from coachhub.videos.domain import pieces
from coachhub.videos.enums import SubmissionState, UploadState
from coachhub.videos.models import Submission, Upload
from coachhub.videos.tasks import check
from tests import factories
from tests.cast import Cast, make_cast

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture(autouse=True)
def no_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(check, "delay", lambda job_id: None)


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def submission(cast: Cast) -> Submission:
    return factories.make_submission(cast.student, cast.cohort, state=SubmissionState.OPEN, sent_at=None)


def send(
    client: Client, submission: Submission, name: str = "a.mov", data: bytes = b"swing", **more: str
) -> Any:
    form = {"view": "dtl", "file": SimpleUploadedFile(name, data)} | more
    return client.post(f"/uploads/form/{submission.public_id}/", form, follow=True)


def said(page: Any) -> str:
    return " ".join(str(message) for message in page.context["messages"])


@pytest.fixture
def client(cast: Cast) -> Client:
    client = Client()
    client.force_login(cast.student)
    return client


def test_a_clip_by_a_plain_form(client: Client, submission: Submission) -> None:
    page = send(client, submission, name="..\\..\\x\x01.mov")
    assert "Your clip has arrived" in said(page)
    clip = submission.clips.get()
    assert (clip.view, clip.size, clip.file_name) == ("dtl", 5, "x.mov")
    assert Upload.objects.get().state == UploadState.COMPLETE


def test_the_form_needs_its_token(cast: Cast, submission: Submission) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.student)
    assert send(client, submission).status_code == 403
    assert not Upload.objects.exists()
    page = client.get(f"/my/submissions/{submission.public_id}/")
    if page.status_code == 200:
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page.content.decode())[1]  # type: ignore[index]
        assert send(client, submission, csrfmiddlewaretoken=token).status_code == 200
        assert submission.clips.count() == 1


@pytest.mark.parametrize(
    "more, sentence",
    [
        ({"view": "from above"}, "Say from where you filmed"),
        ({"file": ""}, "Choose a clip first"),
    ],
)
def test_what_is_missing_is_said(
    client: Client, submission: Submission, more: dict[str, str], sentence: str
) -> None:
    assert sentence in said(send(client, submission, **more))
    assert not submission.clips.exists()


def test_an_empty_file_is_said(client: Client, submission: Submission) -> None:
    assert "This file is empty" in said(send(client, submission, data=b""))


def test_the_same_clip_twice_is_said(client: Client, submission: Submission) -> None:
    send(client, submission)
    assert "the same video as clip 1" in said(send(client, submission))
    assert submission.clips.count() == 1


def test_too_large_is_refused_unread(client: Client, submission: Submission, settings: Any) -> None:
    settings.UPLOAD_MAX_BYTES = 1000
    assert "too large" in said(send(client, submission, data=b"x" * 100_000))
    assert "larger than" in said(send(client, submission, data=b"x" * 1001))
    assert not Upload.objects.exists()


def test_a_full_disk_is_said_and_leaves_nothing(
    client: Client, submission: Submission, monkeypatch: pytest.MonkeyPatch
) -> None:
    import errno

    def full(file: Any, block: bytes) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(pieces, "write_all", full)
    assert "no room left" in said(send(client, submission))
    upload = Upload.objects.get()
    assert upload.state == UploadState.GONE
    assert not pieces.part_path(upload).exists()


@pytest.mark.parametrize(
    "name, status",
    [("cohort_mate", 404), ("coach", 404), ("outsider", 404), ("organiser_elsewhere", 404)],
)
def test_for_others_it_is_out_of_sight(cast: Cast, submission: Submission, name: str, status: int) -> None:
    client = Client()
    client.force_login(cast.person(name))  # type: ignore[arg-type]
    assert send(client, submission).status_code == status


def test_a_coach_sees_it_sent_but_adds_nothing(cast: Cast, submission: Submission) -> None:
    Submission.objects.filter(pk=submission.pk).update(state=SubmissionState.SENT)
    client = Client()
    client.force_login(cast.coach)
    assert send(client, submission).status_code == 403
    assert not submission.clips.exists()
