from __future__ import annotations

import errno
import hashlib
import io
import os
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from coachhub.common.domain.errors import RuleBroken
from coachhub.videos.domain import pieces, uploads
from coachhub.videos.domain.pieces import Checksum, append, part_path
from coachhub.videos.domain.uploads import (
    Announced,
    begin_upload,
    drop_expired,
    end_upload,
    finish_stuck,
    finish_upload,
)
from coachhub.videos.enums import UploadState
from coachhub.videos.models import Submission, Upload
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


def now() -> Any:
    return NOW


def begin(submission: Submission, length: int = 100, **given: Any) -> Upload:
    announced = Announced(**{"length": length, "view": "dtl", "file_name": "a.mov"} | given)
    return begin_upload(submission, announced, by=submission.student, now=NOW)


def put(
    upload: Upload, data: bytes, *, size: int | None = None, checksum: Checksum | None = None, **given: Any
) -> Upload:
    return append(
        upload,
        given.get("stream", io.BytesIO(data)),
        offset=given.get("offset", upload.offset),
        size=len(data) if size is None else size,
        checksum=checksum,
        clock=given.get("clock", now),
    )


def held(upload: Upload) -> bytes:
    return part_path(upload).read_bytes()


def test_pieces_add_up_to_a_clip(submission: Submission) -> None:
    upload = begin(submission)
    upload = put(upload, b"a" * 60)
    assert upload.offset == 60
    upload = finish_upload(put(upload, b"b" * 40), now=NOW)
    assert (upload.state, upload.clip.number) == (UploadState.COMPLETE, 1)  # type: ignore[union-attr]
    assert upload.clip.sha256 == hashlib.sha256(b"a" * 60 + b"b" * 40).hexdigest()  # type: ignore[union-attr]
    assert not part_path(upload).exists()
    assert finish_upload(upload, now=NOW).clip == upload.clip
    assert submission.clips.count() == 1


def test_the_same_clip_twice_is_said_and_kept_once(submission: Submission) -> None:
    for _ in range(2):
        upload = finish_upload(put(begin(submission), b"a" * 100), now=NOW)
    assert (upload.state, upload.clip) == (UploadState.COMPLETE, None)
    assert "the same video as clip 1" in upload.refused_text
    assert submission.clips.count() == 1


@pytest.mark.parametrize(
    "length, match", [(0, "This file is empty"), (500 * 1024 * 1024 + 1, "larger than 500 MB")]
)
def test_size_is_refused_before_the_first_byte(submission: Submission, length: int, match: str) -> None:
    with pytest.raises(RuleBroken, match=match):
        begin(submission, length)
    assert not Upload.objects.exists()


def test_the_quota_counts_what_is_kept_and_what_is_coming(submission: Submission, settings: Any) -> None:
    settings.UPLOAD_QUOTA_BYTES = 1000
    factories.make_clip(submission, size=500)
    begin(submission, 400)
    with pytest.raises(RuleBroken, match="all the room you have"):
        begin(submission, 101)
    begin(submission, 100)


def test_an_unknown_view_is_refused(submission: Submission) -> None:
    with pytest.raises(ValueError, match="view must be one of"):
        begin(submission, view="from above")


def test_a_full_disk_is_seen_before_the_first_byte(
    submission: Submission, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = type("usage", (), {"free": 1000})
    monkeypatch.setattr(uploads.shutil, "disk_usage", lambda path: usage)
    with pytest.raises(uploads.TooLarge) as caught:
        begin(submission)
    assert caught.value.is_disk


def test_a_wrong_offset_changes_nothing(submission: Submission) -> None:
    upload = put(begin(submission), b"a" * 10)
    with pytest.raises(pieces.WrongOffset):
        put(upload, b"b" * 10, offset=5)
    upload.refresh_from_db()
    assert (upload.offset, held(upload), upload.locked_until) == (10, b"a" * 10, None)


@pytest.mark.parametrize("algorithm", ["sha1", "sha256"])
def test_a_wrong_checksum_keeps_nothing_of_the_piece(submission: Submission, algorithm: str) -> None:
    upload = put(begin(submission), b"a" * 10)
    wrong = Checksum(algorithm, hashlib.new(algorithm, b"other").digest())
    with pytest.raises(pieces.WrongChecksum):
        put(upload, b"b" * 10, checksum=wrong)
    upload.refresh_from_db()
    assert (upload.offset, held(upload)) == (10, b"a" * 10)
    right = Checksum(algorithm, hashlib.new(algorithm, b"b" * 10).digest())
    assert put(upload, b"b" * 10, checksum=right).offset == 20


def test_a_broken_line_keeps_what_came(submission: Submission) -> None:
    class Breaks(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            data = super().read(7)
            if not data:
                raise OSError("connection reset")
            return data

    upload = put(begin(submission), b"", size=50, stream=Breaks(b"a" * 21))
    assert (upload.offset, held(upload), upload.locked_until) == (21, b"a" * 21, None)


def test_a_broken_line_with_a_checksum_keeps_nothing(submission: Submission) -> None:
    upload = put(begin(submission), b"a" * 21, size=50, checksum=Checksum("sha1", b"?"))
    assert (upload.offset, held(upload)) == (0, b"")


def test_a_full_disk_keeps_what_it_took(submission: Submission, monkeypatch: pytest.MonkeyPatch) -> None:
    upload = put(begin(submission), b"a" * 10)
    whole = pieces.write_all

    def fills_up(file: Any, block: bytes) -> None:
        whole(file, block[:4])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(pieces, "write_all", fills_up)
    with pytest.raises(pieces.DiskFull):
        put(upload, b"b" * 30)
    monkeypatch.undo()
    upload.refresh_from_db()
    assert (upload.offset, held(upload)) == (14, b"a" * 10 + b"b" * 4)
    assert put(upload, b"c" * 86).offset == 100, "it goes on once there is room"


def test_a_server_that_dies_in_a_long_piece_loses_seconds(submission: Submission) -> None:
    """Only what has no checksum: a piece with one is kept whole or not at all."""
    upload = begin(submission)
    times = (NOW + timedelta(seconds=3 * k) for k in range(100))

    class Killed(BaseException):
        pass

    class Dies(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            if self.tell() == 60:
                raise Killed
            return super().read(10)

    with pytest.raises(Killed):
        put(upload, b"", size=100, stream=Dies(b"a" * 100), clock=lambda: next(times))
    upload.refresh_from_db()
    assert upload.offset == 50
    assert put(upload, b"a" * 10).offset == 60


def test_bytes_beyond_the_promise_are_cut_off(submission: Submission) -> None:
    """A server that died between the write and the commit leaves a longer file than the row says."""
    upload = put(begin(submission), b"a" * 10)
    with part_path(upload).open("ab") as file:
        file.write(b"unpromised")
    assert put(upload, b"b" * 5).offset == 15
    assert held(upload) == b"a" * 10 + b"b" * 5


def test_one_writer_at_a_time(submission: Submission) -> None:
    upload = begin(submission)

    class Meddles(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            with pytest.raises(pieces.Locked):
                put(Upload.objects.get(pk=upload.pk), b"x" * 5)
            return super().read(size)

    assert put(upload, b"", size=10, stream=Meddles(b"a" * 10)).offset == 10


def test_a_silent_writer_is_overtaken_and_writes_no_more(submission: Submission) -> None:
    upload = begin(submission)
    times = iter([NOW, NOW + timedelta(seconds=30), NOW + timedelta(seconds=31)])

    class FallsSilent(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            later = Upload.objects.get(pk=upload.pk)
            put(later, b"new", clock=lambda: NOW + timedelta(seconds=25))
            return b"old"

    with pytest.raises(pieces.LockLost):
        put(upload, b"", size=3, stream=FallsSilent(), clock=lambda: next(times))
    upload.refresh_from_db()
    assert (upload.offset, held(upload)) == (3, b"new")


def test_an_upload_that_stops_for_ever_ends(submission: Submission, settings: Any) -> None:
    upload = put(begin(submission), b"a" * 10)
    assert drop_expired(now=NOW + settings.UPLOAD_LIFETIME - timedelta(seconds=1)) == 0
    assert drop_expired(now=NOW + settings.UPLOAD_LIFETIME) == 1
    upload.refresh_from_db()
    assert upload.state == UploadState.GONE
    assert not part_path(upload).exists()
    assert drop_expired(now=NOW + settings.UPLOAD_LIFETIME) == 0


def test_pieces_without_a_row_are_swept(submission: Submission, settings: Any) -> None:
    growing = put(begin(submission), b"a" * 10)
    stray = Path(settings.UPLOAD_DIR) / "0123.part"
    stray.write_bytes(b"?")
    for path in (stray, part_path(growing)):
        os.utime(path, (0, 0))
    drop_expired(now=NOW)
    assert not stray.exists()
    assert part_path(growing).exists()


def test_ending_twice_ends_once(submission: Submission) -> None:
    upload = put(begin(submission), b"a" * 10)
    assert end_upload(upload, now=NOW)
    assert not end_upload(upload, now=NOW)
    assert not part_path(upload).exists()


def test_a_file_that_arrived_just_before_the_server_died_is_finished(submission: Submission) -> None:
    upload = put(begin(submission), b"a" * 100)
    assert finish_stuck(now=NOW) == 1
    assert finish_stuck(now=NOW) == 0
    upload.refresh_from_db()
    assert upload.clip is not None


def test_another_machines_file_is_left_alone_until_it_expires(submission: Submission, settings: Any) -> None:
    upload = put(begin(submission), b"a" * 100)
    part_path(upload).unlink()
    assert finish_stuck(now=NOW) == 0
    assert drop_expired(now=NOW + settings.UPLOAD_LIFETIME) == 1
    upload.refresh_from_db()
    assert upload.state == UploadState.GONE


def test_a_lost_file_is_said(submission: Submission) -> None:
    upload = put(begin(submission), b"a" * 100)
    part_path(upload).unlink()
    assert "got lost on our side" in finish_upload(upload, now=NOW).refused_text


def test_begin_needs_ones_own_submission(submission: Submission) -> None:
    with pytest.raises(RuleBroken, match="Only the student"):
        begin_upload(submission, Announced(10, "dtl"), by=factories.make_user(), now=NOW)
