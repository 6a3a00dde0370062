"""Taking a reference out of the library, with its film and everything measured in it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.rules import can
from coachhub.swings.domain.files import drop_folder
from coachhub.swings.models import AnalysisRun
from coachhub.videos.domain.files import drop_files
from coachhub.videos.models import Clip, Reference

FILES = ("original_key", "rendition_key", "poster_key", "index_key")


@transaction.atomic
def delete_reference(reference: Reference, *, by: User, now: datetime) -> None:
    """Gone for everybody: published answers that show it keep their words and say that the film was removed."""
    if not can(by, "videos.edit_reference", reference):
        raise RuleBroken("not_yours", "Only the coach who made this reference can delete it.")
    clip = Clip.objects.filter(reference=reference).first()
    keys = [str(getattr(clip, name)) for name in FILES] if clip else []
    runs = list(AnalysisRun.objects.filter(measurements__clip=clip)) if clip else []
    record("reference.deleted", reference, by=by, now=now, scope=reference.camp.public_id)
    reference.delete()
    folders = _drop_unused(runs)
    transaction.on_commit(lambda: _drop_stored(keys, folders), robust=True)


def _drop_unused(runs: list[AnalysisRun]) -> list[str]:
    """A film of equal content elsewhere may share the run: then it stays."""
    unused = [run for run in runs if not run.measurements.exists() and not run.readouts.exists()]
    for run in unused:
        run.delete()
    return [run.result_key for run in unused if run.result_key]


def _drop_stored(keys: list[str], folders: list[str]) -> None:
    drop_files(keys)
    for folder in folders:
        drop_folder(folder)
