"""What a run found becomes swings, readouts and signs of every clip it speaks for."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from django.db import transaction

from coachhub.common.domain import jobs
from coachhub.common.enums import JobState
from coachhub.swings.domain.files import drop_folder, put_folder, result_folder
from coachhub.swings.domain.readouts import add_readout, is_measured_by, place_swings
from coachhub.swings.models import AnalysisRun
from coachhub.videos.domain.clips import settle_clip
from coachhub.videos.enums import ClipState
from coachhub.videos.models import Clip

# Ends that say nothing about the clip: the coach looks at it without numbers.
OUR_TROUBLE = frozenset(
    {
        "gave_up",
        "source_gone",
        "crashed",
        "failed",
        "disk_full",
        "out_of_time",
        "out_of_cpu",
        "out_of_memory",
        "file_too_large",
    }
)
NOT_MEASURED = {
    "code": "not_measured",
    "sentence": "This clip could not be measured. Your coach looks at it without the numbers.",
}
NO_SWING = {
    "code": "no_swing",
    "sentence": "No swing was found in this clip. Film one full swing, from set-up to finish, and send that.",
}


class LeaseLost(Exception):
    """Another worker owns the run now; what this one found is dropped."""


def store_result(run: AnalysisRun, folder: Path, *, now: datetime) -> None:
    """Take over readout.json and the files beside it, for every clip of the run; ends the run as done.

    Raises LeaseLost, and keeps nothing, if the run is no longer this worker's.
    """
    result = read_result(folder)
    key = put_folder(folder)
    try:
        with transaction.atomic():
            if not jobs.finish(run, now=now):
                raise LeaseLost
            AnalysisRun.objects.filter(pk=run.pk).update(result_key=key)
            run.refresh_from_db()
            for clip in clips_of(run):
                apply_result(clip, run, result, folder, now=now)
    except BaseException:
        drop_folder(key)
        raise


def run_failed(run: AnalysisRun, *, code: str, text: str, now: datetime) -> None:
    """End the run without a result; nothing of the clips is lost."""
    with transaction.atomic():
        if not jobs.fail(run, now=now, code=code, text=text):
            raise LeaseLost
        run.refresh_from_db()
        for clip in clips_of(run):
            apply_failure(clip, run, now=now)


def catch_up(run_id: int, *, now: datetime) -> None:
    """Carry the result of an ended run over to clips that joined it later, or whose worker died in between."""
    run = AnalysisRun.objects.filter(pk=run_id, job_state__in=(JobState.DONE, JobState.FAILED)).first()
    if run is None:
        return
    if run.job_state == JobState.FAILED:
        for clip in clips_of(run):
            apply_failure(clip, run, now=now)
        return
    missing = [clip for clip in clips_of(run) if _lacks(clip, run)]
    if missing:
        with result_folder(run) as folder:
            result = read_result(folder)
            for clip in missing:
                apply_result(clip, run, result, folder, now=now)


def _lacks(clip: Clip, run: AnalysisRun) -> bool:
    return clip.state == ClipState.PLAYABLE or (
        clip.state == ClipState.USABLE and not is_measured_by(clip, run)
    )


def clips_of(run: AnalysisRun) -> Iterable[Clip]:
    return Clip.objects.filter(measurement__run=run).select_related("submission").order_by("pk")


def read_result(folder: Path) -> dict[str, Any]:
    """The readout file; strict JSON, since PostgreSQL stores no NaN."""

    def refuse(word: str) -> None:
        raise ValueError(f"readout.json must be strict JSON, and it holds {word}")

    text = (folder / "readout.json").read_text(encoding="utf-8")
    result: dict[str, Any] = json.loads(text, parse_constant=refuse)
    return result


@transaction.atomic
def apply_result(
    clip: Clip, run: AnalysisRun, result: dict[str, Any], folder: Path, *, now: datetime
) -> None:
    """Swings and readouts of one clip; twice is the same as once, also for two workers at the same time."""
    clip = Clip.objects.select_for_update().get(pk=clip.pk)
    found = _numbered(result)
    if not found:
        reason = next((p for p in _problems(result) if p.get("fatal")), NO_SWING)
        _settle(clip, usable=False, code=reason["code"], text=reason["sentence"], now=now)
        return
    if not is_measured_by(clip, run):
        for swing, data in place_swings(clip, found, now=now):
            add_readout(swing, run, data, folder, now=now)
    _settle(clip, usable=True, warnings=_warnings(result), now=now)


def _numbered(result: dict[str, Any]) -> list[dict[str, Any]]:
    """The measured swings, each with its number in the run: what was no swing after all leaves a gap."""
    swings = [{**data, "run_swing": number} for number, data in enumerate(result["swings"], start=1)]
    return [data for data in swings if data["usable"]]


def _problems(result: dict[str, Any]) -> list[dict[str, Any]]:
    """The clip's problems, then those of its swings."""
    return [*result["problems"], *(p for swing in result["swings"] for p in swing["problems"])]


def _warnings(result: dict[str, Any]) -> list[dict[str, str]]:
    mild = [p for p in _problems(result) if not p.get("fatal")]
    return list({p["code"]: {"code": p["code"], "sentence": p["sentence"]} for p in mild}.values())


def apply_failure(clip: Clip, run: AnalysisRun, *, now: datetime) -> None:
    if run.error_code in OUR_TROUBLE:
        _settle(clip, usable=True, warnings=[NOT_MEASURED], now=now)
    else:
        _settle(clip, usable=False, code=run.error_code, text=run.error_text, now=now)


def _settle(clip: Clip, now: datetime, **outcome: Any) -> None:
    # Measured again: the clip was judged long ago, and its submission with it.
    if clip.state == ClipState.PLAYABLE:
        settle_clip(clip, now=now, **outcome)
