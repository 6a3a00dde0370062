"""Clips' files in storage: put there once under a key that nobody can guess from a name, read back as local paths."""

from __future__ import annotations

import os
import shutil
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.core.files import File
from django.core.files.storage import default_storage

# A worker that was killed leaves its folder behind.
ABANDONED_S = 6 * 3600


def new_key(folder: str, ending: str = "") -> str:
    ident = uuid.uuid4().hex
    return f"{folder}/{ident[:2]}/{ident}{ending}"


def keep_file(path: Path, key: str) -> None:
    """Put a local file into storage under ``key``; the local one stays until the caller has committed."""
    try:
        target = Path(default_storage.path(key))
    except NotImplementedError:
        with path.open("rb") as file:
            default_storage.save(key, File(file))
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    # On the same disk a second name is enough: 500 MB are not copied while the sender waits.
    try:
        os.link(path, target)
    except OSError:
        shutil.copyfile(path, target)
    target.chmod(0o600)


def drop_files(keys: list[str]) -> None:
    for key in filter(None, keys):
        default_storage.delete(key)


@contextmanager
def local_copy(key: str, folder: Path) -> Iterator[Path]:
    """A path to the stored file; a store that has no paths is copied from for the time being."""
    try:
        yield Path(default_storage.path(key))
    except NotImplementedError:
        target = folder / "source"
        with default_storage.open(key, "rb") as source, target.open("wb") as copy:
            shutil.copyfileobj(source, copy, 1 << 20)
        yield target
        target.unlink(missing_ok=True)


@contextmanager
def work_folder(now_s: float) -> Iterator[Path]:
    """A folder for one attempt, on the disk that the site may fill."""
    root = Path(settings.VAR_DIR) / "work"
    root.mkdir(parents=True, exist_ok=True)
    for old in root.glob("media-*"):
        if old.stat().st_mtime < now_s - ABANDONED_S:
            shutil.rmtree(old, ignore_errors=True)
    with tempfile.TemporaryDirectory(prefix="media-", dir=root, ignore_cleanup_errors=True) as name:
        yield Path(name)
