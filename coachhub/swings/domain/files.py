"""Results in storage, as folders that the measuring can open."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.core.files.storage import default_storage

from coachhub.swings.models import AnalysisRun
from coachhub.videos.domain.files import drop_files, keep_file, new_key
from coachhub.videos.models import Clip


def first_existing(keys: list[str]) -> str | None:
    return next((key for key in keys if key and default_storage.exists(key)), None)


def put_folder(folder: Path) -> str:
    """Store the files of a result under a key of this attempt's own; the row names it once all are there."""
    key = new_key("measured")
    for path in sorted(folder.iterdir()):
        keep_file(path, f"{key}/{path.name}")
    return key


def drop_folder(key: str) -> None:
    drop_files([f"{key}/{name}" for name in default_storage.listdir(key)[1]])


def pictures_of_clip(clip: Clip) -> list[str]:
    """Keys of the sheet and the stills that only this clip's measurings drew."""
    runs = AnalysisRun.objects.filter(measurements__clip=clip) | AnalysisRun.objects.filter(
        readouts__swing__clip=clip
    )
    found = []
    for run in runs.distinct():
        others = (
            run.measurements.exclude(clip=clip).exists() or run.readouts.exclude(swing__clip=clip).exists()
        )
        if run.result_key and not others and default_storage.exists(run.result_key):
            names = default_storage.listdir(run.result_key)[1]
            found += [f"{run.result_key}/{name}" for name in names if name.endswith((".jpg", ".png"))]
    return found


@contextmanager
def result_folder(run: AnalysisRun) -> Iterator[Path]:
    """The stored result as a local folder."""
    try:
        yield Path(default_storage.path(run.result_key))
    except NotImplementedError:
        with tempfile.TemporaryDirectory(prefix="result-") as name:
            for file_name in default_storage.listdir(run.result_key)[1]:
                with default_storage.open(f"{run.result_key}/{file_name}", "rb") as source:
                    (Path(name) / file_name).write_bytes(source.read())
            yield Path(name)
