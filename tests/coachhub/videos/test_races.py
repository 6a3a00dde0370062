"""Two requests at the same moment, on a real database."""

from __future__ import annotations

import io
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.db import OperationalError, connection

from coachhub.videos.domain.pieces import Locked, WrongOffset, append, part_path
from coachhub.videos.domain.uploads import Announced, begin_upload, finish_upload
from coachhub.videos.models import ClipJob, Submission, Upload
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db(transaction=True)]


def at_once(*calls: Callable[[], Any]) -> list[Any]:
    """Results, or what was raised, of calls that start together, each with its own connection."""
    gate, results = threading.Barrier(len(calls)), [None] * len(calls)

    def one(place: int, call: Callable[[], Any]) -> None:
        gate.wait()
        try:
            results[place] = stubborn(call)
        except Exception as problem:
            results[place] = problem
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=item) for item in enumerate(calls)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return results


def stubborn(call: Callable[[], Any]) -> Any:
    """SQLite's test database in memory refuses at once where the one on disk waits; a client comes again then."""
    for _ in range(200):
        try:
            return call()
        except OperationalError:
            time.sleep(0.02)
    return call()


def arrived(submission: Submission, content: bytes) -> Upload:
    upload = begin_upload(submission, Announced(len(content), "dtl"), by=submission.student, now=NOW)
    path = part_path(upload)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    Upload.objects.filter(pk=upload.pk).update(offset=len(content))
    return Upload.objects.get(pk=upload.pk)


def finishing(upload: Upload) -> Callable[[], Upload]:
    return lambda: finish_upload(Upload.objects.get(pk=upload.pk), now=NOW)


def test_one_upload_finished_twice_is_one_clip(submission: Submission) -> None:
    upload = arrived(submission, b"a" * 1000)
    at_once(*[finishing(upload)] * 4)
    upload.refresh_from_db()
    assert upload.clip == submission.clips.get()
    assert upload.refused_text == ""
    assert ClipJob.objects.count() == 1


def test_the_same_content_twice_is_one_clip_and_is_said(submission: Submission) -> None:
    twins = [arrived(submission, b"a" * 1000) for _ in range(2)]
    at_once(*map(finishing, twins))
    assert submission.clips.count() == 1
    said = sorted(Upload.objects.values_list("refused_text", flat=True))
    assert said[0] == ""
    assert "the same video as clip 1" in said[1]


def test_eight_files_are_six_clips_with_six_numbers(submission: Submission) -> None:
    uploads = [arrived(submission, bytes([k]) * 1000) for k in range(8)]
    at_once(*map(finishing, uploads))
    assert sorted(submission.clips.values_list("number", flat=True)) == [1, 2, 3, 4, 5, 6]
    assert Upload.objects.exclude(refused_text="").count() == 2
    assert not list(Path(part_path(uploads[0]).parent).glob("*.part"))


def test_two_writers_leave_one_piece(submission: Submission) -> None:
    upload = begin_upload(submission, Announced(100, "dtl"), by=submission.student, now=NOW)

    def write(letter: bytes) -> Callable[[], Upload]:
        return lambda: append(
            Upload.objects.get(pk=upload.pk),
            io.BytesIO(letter * 100),
            offset=0,
            size=100,
            checksum=None,
            clock=lambda: NOW,
        )

    results = at_once(write(b"a"), write(b"b"))
    refused = [result for result in results if isinstance(result, Locked | WrongOffset)]
    assert len(refused) == 1
    assert len(set(part_path(upload).read_bytes())) == 1
