"""Results and originals in storage, as paths that the measuring can open."""

from __future__ import annotations

import shutil
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.core.files import File
from django.core.files.storage import Storage, default_storage

from coachhub.swings.models import AnalysisRun

# A worker that was killed leaves its folder behind.
ABANDONED_S = 6 * 3600


@contextmanager
def work_folder(now_s: float) -> Iterator[Path]:
    """A folder of its own for one run, on the disk that the site may fill."""
    root = settings.VAR_DIR / "work"
    root.mkdir(parents=True, exist_ok=True)
    for old in root.iterdir():
        if old.stat().st_mtime < now_s - ABANDONED_S:
            shutil.rmtree(old, ignore_errors=True)
    with tempfile.TemporaryDirectory(prefix="measure-", dir=root, ignore_cleanup_errors=True) as name:
        yield Path(name)


@contextmanager
def local_copy(key: str, folder: Path, *, storage: Storage = default_storage) -> Iterator[Path]:
    """A path to the stored file; a store that has no paths is copied from for the time being."""
    try:
        yield Path(storage.path(key))
    except NotImplementedError:
        target = folder / "source"
        with storage.open(key, "rb") as source, target.open("wb") as copy:
            shutil.copyfileobj(source, copy)
        yield target
        target.unlink(missing_ok=True)


def first_existing(keys: list[str], *, storage: Storage = default_storage) -> str | None:
    return next((key for key in keys if key and storage.exists(key)), None)


def put_folder(run: AnalysisRun, folder: Path, *, storage: Storage = default_storage) -> str:
    """Store the files of a result under a key of this attempt's own; the row names it once all are there."""
    key = f"measured/{run.clip_digest[:2]}/{run.clip_digest}/{uuid.uuid4().hex}"
    for path in sorted(folder.iterdir()):
        with path.open("rb") as file:
            storage.save(f"{key}/{path.name}", File(file))
    return key


def drop_folder(key: str, *, storage: Storage = default_storage) -> None:
    for name in storage.listdir(key)[1]:
        storage.delete(f"{key}/{name}")


@contextmanager
def result_folder(run: AnalysisRun, *, storage: Storage = default_storage) -> Iterator[Path]:
    """The stored result as a local folder."""
    try:
        yield Path(storage.path(run.result_key))
    except NotImplementedError:
        with tempfile.TemporaryDirectory(prefix="result-") as name:
            for file_name in storage.listdir(run.result_key)[1]:
                with storage.open(f"{run.result_key}/{file_name}", "rb") as source:
                    (Path(name) / file_name).write_bytes(source.read())
            yield Path(name)
