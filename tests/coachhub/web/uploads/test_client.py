"""An independent client of the protocol (tuspy) against the running site, over a bad line."""

from __future__ import annotations

import hashlib
import io
from typing import Any

import pytest
from django.test import Client
from tusclient.client import TusClient

from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission, Upload
from coachhub.videos.tasks import check
from tests import factories
from tests.cast import make_cast

pytestmark = [pytest.mark.integration, pytest.mark.django_db(transaction=True)]

CONTENT = hashlib.sha256(b"seed").digest() * 40_000


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    jobs: list[int] = []
    monkeypatch.setattr(check, "delay", jobs.append)
    return jobs


@pytest.fixture
def submission(sent: list[int]) -> Submission:
    cast = make_cast()
    return factories.make_submission(cast.student, cast.cohort, state=SubmissionState.OPEN, sent_at=None)


@pytest.fixture
def tus(live_server: Any, submission: Submission) -> TusClient:
    browser = Client()
    browser.force_login(submission.student)
    cookie = browser.cookies["sessionid"].value
    return TusClient(f"{live_server.url}/uploads/", headers={"Cookie": f"sessionid={cookie}"})


def uploader(tus: TusClient, submission: Submission, **more: Any) -> Any:
    return tus.uploader(
        file_stream=io.BytesIO(CONTENT),
        chunk_size=200_000,
        metadata={"submission": str(submission.public_id), "view": "face_on", "filename": "swing.mp4"},
        **more,
    )


def test_a_clip_arrives_in_pieces(tus: TusClient, submission: Submission, sent: list[int]) -> None:
    uploader(tus, submission, upload_checksum=True).upload()
    clip = submission.clips.get()
    assert (clip.sha256, clip.size) == (hashlib.sha256(CONTENT).hexdigest(), len(CONTENT))
    assert (clip.view, clip.file_name) == ("face_on", "swing.mp4")
    assert len(sent) == 1


def test_it_goes_on_where_it_stopped(tus: TusClient, submission: Submission) -> None:
    first = uploader(tus, submission)
    first.upload(stop_at=600_000)
    assert Upload.objects.get().offset == 600_000
    # A new start of the client that knows only the address.
    second = uploader(tus, submission, url=first.url)
    assert second.offset == 600_000
    second.upload()
    assert submission.clips.get().sha256 == hashlib.sha256(CONTENT).hexdigest()
    assert Upload.objects.count() == 1


def test_a_request_cut_in_the_middle_keeps_what_came(
    tus: TusClient, submission: Submission, live_server: Any
) -> None:
    import socket
    import time
    from urllib.parse import urlsplit

    upload = uploader(tus, submission)
    upload.upload(stop_at=200_000)
    site = urlsplit(live_server.url)
    request = (
        f"PATCH {urlsplit(upload.url).path} HTTP/1.1\r\nHost: {site.netloc}\r\n"
        f"Cookie: {tus.headers['Cookie']}\r\nTus-Resumable: 1.0.0\r\nUpload-Offset: 200000\r\n"
        "Content-Type: application/offset+octet-stream\r\nContent-Length: 400000\r\n\r\n"
    )
    with socket.create_connection((site.hostname, site.port)) as line:
        line.sendall(request.encode() + CONTENT[200_000:350_000])
    until = time.monotonic() + 10
    while Upload.objects.get().offset < 350_000 and time.monotonic() < until:
        time.sleep(0.05)
    assert Upload.objects.get().offset == 350_000
    uploader(tus, submission, url=upload.url).upload()
    assert submission.clips.get().sha256 == hashlib.sha256(CONTENT).hexdigest()
