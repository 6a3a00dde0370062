"""Bytes of an upload: appended by one sender at a time, kept when the line breaks, checked against a checksum."""

from __future__ import annotations

import errno
import hashlib
import os
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from io import FileIO
from pathlib import Path
from typing import Protocol

from django.conf import settings
from django.db.models import Q, QuerySet

from coachhub.videos.enums import UploadState
from coachhub.videos.models import Upload

BLOCK_BYTES = 256 * 1024
# A sender that fell silent for this long may be overtaken by its own next attempt.
LOCK = timedelta(seconds=20)
RENEW_AFTER = timedelta(seconds=5)
CHECKSUMS = ("sha1", "sha256")

Clock = Callable[[], datetime]


class Readable(Protocol):
    def read(self, size: int, /) -> bytes: ...


class Locked(Exception):
    """Another request is writing to this upload."""


class WrongOffset(Exception):
    """The sender and the file disagree on how much has arrived."""


class WrongChecksum(Exception):
    """What arrived is not what was sent; nothing of it was kept."""


class DiskFull(Exception):
    """The disk took no more; what it took is kept."""


class LockLost(Exception):
    """A newer request took over while this one was silent."""


@dataclass(frozen=True)
class Checksum:
    algorithm: str
    digest: bytes


def part_path(upload: Upload) -> Path:
    """Where an unfinished upload lies: named by us, never by the sender."""
    return Path(settings.UPLOAD_DIR) / f"{upload.public_id.hex}.part"


def append(
    upload: Upload, stream: Readable, *, offset: int, size: int, checksum: Checksum | None, clock: Clock
) -> Upload:
    """Add ``size`` bytes from ``stream`` at ``offset``. Less may come: what came is kept, unless it had a checksum."""
    lock = _Lock(upload, clock)
    try:
        upload.refresh_from_db()
        if upload.state != UploadState.GROWING or offset != upload.offset:
            raise WrongOffset
        _write(upload, stream, size, checksum, lock)
    finally:
        lock.release()
    upload.refresh_from_db()
    return upload


def _write(upload: Upload, stream: Readable, size: int, checksum: Checksum | None, lock: _Lock) -> None:
    path = part_path(upload)
    path.parent.mkdir(parents=True, exist_ok=True)
    # Unbuffered: after a full disk the file's size says exactly what was taken.
    with open(os.open(path, os.O_WRONLY | os.O_CREAT, 0o600), "wb", buffering=0) as file:
        # A server that died in the middle may have left more than it had promised.
        file.truncate(upload.offset)
        file.seek(upload.offset)
        try:
            added, digest = _copy(stream, file, size, checksum, lock)
        except OSError as problem:
            if problem.errno not in (errno.ENOSPC, errno.EDQUOT):
                raise
            _settle(upload, file, 0 if checksum else None, lock)
            raise DiskFull from problem
        wrong = checksum is not None and (added < size or digest != checksum.digest)
        _settle(upload, file, 0 if wrong else added, lock)
    if wrong and added == size:
        raise WrongChecksum


def _copy(
    stream: Readable, file: FileIO, size: int, checksum: Checksum | None, lock: _Lock
) -> tuple[int, bytes]:
    summed = hashlib.new(checksum.algorithm, usedforsecurity=False) if checksum else None
    start, added = file.tell(), 0
    while added < size:
        try:
            block = stream.read(min(BLOCK_BYTES, size - added))
        except OSError:
            break  # the line broke
        if not block:
            break
        # What came without a checksum is promised from time to time: a server that dies loses seconds, not a file.
        lock.renew(None if summed else start + added)
        write_all(file, block)
        added += len(block)
        if summed:
            summed.update(block)
    return added, summed.digest() if summed else b""


def write_all(file: FileIO, block: bytes) -> None:
    left = memoryview(block)
    while left:
        left = left[file.write(left) or 0 :]


def _settle(upload: Upload, file: FileIO, added: int | None, lock: _Lock) -> None:
    """Make the file and the row agree. ``added`` None: as much as the disk took."""
    if added is None:
        added = max(0, os.fstat(file.fileno()).st_size - upload.offset)
    file.truncate(upload.offset + added)
    os.fsync(file.fileno())
    lock.commit(upload.offset + added)


class _Lock:
    """One writer at a time: a lease on the row, renewed while bytes come."""

    def __init__(self, upload: Upload, clock: Clock) -> None:
        self._pk, self._clock = upload.pk, clock
        now = clock()
        free = Q(locked_until=None) | Q(locked_until__lte=now)
        self._until = now + LOCK
        if not Upload.objects.filter(free, pk=self._pk).update(locked_until=self._until):
            raise Locked
        self._renewed = now

    def renew(self, offset: int | None) -> None:
        now = self._clock()
        if now - self._renewed < RENEW_AFTER:
            return
        arrived = {} if offset is None else {"offset": offset}
        if not self._mine().update(locked_until=now + LOCK, **arrived):
            raise LockLost
        self._until, self._renewed = now + LOCK, now

    def commit(self, offset: int) -> None:
        if not self._mine().filter(state=UploadState.GROWING).update(offset=offset):
            raise LockLost

    def release(self) -> None:
        self._mine().update(locked_until=None)

    def _mine(self) -> QuerySet[Upload]:
        return Upload.objects.filter(pk=self._pk, locked_until=self._until)
