"""The worker's part of a case: the covered film, out of what is stored, in the limited child."""

from __future__ import annotations

import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from analysis.adapters.sandbox import ChildError, Limits
from coachhub.common.domain import jobs
from coachhub.common.domain.recordings import Clock, fetch, give_up, work_in_child
from coachhub.feedback.domain.cases import send
from coachhub.feedback.domain.talk_films import clips_of_talk
from coachhub.feedback.models import Case
from coachhub.swings.domain.files import drop_folder
from coachhub.swings.domain.lines import lines_of
from coachhub.swings.models import Readout, Swing
from coachhub.videos.domain.files import keep_file, new_key

MODULE = "analysis.adapters.cover_film"
LIMITS = Limits(cpu_s=3000, memory_bytes=3 * 1024**3, file_bytes=512 * 1024**2, wall_s=1080)
FAILED = "The covered film could not be made. Try another swing; if that fails too, tell the organiser."
MOST_SHEETS = 80


def make_case(case_id: int, *, clock: Clock) -> bool:
    """Claim the case and make its film. False: somebody else has it, it is over, or it was taken down."""
    case = jobs.claim(Case.objects.all(), case_id, now=clock(), lease=settings.JOB_LEASE)
    if case is None:
        return False
    with tempfile.TemporaryDirectory(prefix="case-") as name:
        try:
            made = Path(name) / "made"
            made.mkdir()
            facts = (
                _talk(case, Path(name), made, clock)
                if case.talk_id
                else _swing(case, Path(name), made, clock)
            )
            _keep(case, made, facts, now=clock())
        except ChildError as problem:
            give_up(case, problem, now=clock(), sentence=FAILED)
        except FileNotFoundError:
            jobs.fail(case, now=clock(), code="source_gone", text="The film it is made from is deleted.")
    return True


def _swing(case: Case, folder: Path, made: Path, clock: Clock) -> dict[str, Any]:
    swing = case.swing
    assert swing is not None
    arguments = {
        "path": str(fetch(swing.clip.rendition_key or "none", folder / "clip.mp4")),
        "tracks": _tracks(swing),
        "span_us": [round(swing.start_s * 1e6), round(swing.end_s * 1e6)],
        "margin": case.margin,
        "out_dir": str(made),
    }
    return work_in_child(case, f"{MODULE}:cover_to_dir", arguments, limits=LIMITS, clock=clock)


def _tracks(swing: Swing) -> list[dict[str, Any]]:
    """The lines of all swings of the clip: the golfer before and after this one is the same."""
    rows = Readout.objects.filter(swing__clip=swing.clip, is_current=True).select_related("run", "swing")
    return [lines for row in rows if (lines := lines_of(row)) is not None]


def _talk(case: Case, folder: Path, made: Path, clock: Clock) -> dict[str, Any]:
    """The talk's film once more, over covered clips: only the coach's voice is heard."""
    talk = case.talk
    assert talk is not None
    clips = clips_of_talk(talk, folder)
    covered: dict[str, dict[str, Any]] = {}
    for clip in clips.values():
        out = folder / f"covered-{len(covered)}"
        job = covered.setdefault(clip["path"], {"path": clip["path"], "tracks": [], "out_dir": str(out)})
        job["tracks"] += [clip["tracks"]] if clip["tracks"] else []
        Path(job["out_dir"]).mkdir(exist_ok=True)
    jobs_of = {"jobs": list(covered.values()), "margin": case.margin}
    work_in_child(case, f"{MODULE}:cover_many", jobs_of, limits=LIMITS, clock=clock)
    filmed = {
        ident: clip | {"path": str(Path(covered[clip["path"]]["out_dir"]) / "film.mp4")}
        for ident, clip in clips.items()
    }
    arguments = {
        "clips": filmed,
        "timeline": talk.timeline,
        "sound": str(fetch(talk.audio_key, folder / "talk.m4a")),
        "out_dir": str(made),
    }
    work_in_child(case, "analysis.adapters.talk_film:film_to_dir", arguments, limits=LIMITS, clock=clock)
    sheets = {"path": str(made / "film.mp4"), "out_dir": str(made)}
    return work_in_child(case, f"{MODULE}:sheets_to_dir", sheets, limits=LIMITS, clock=clock)


def _keep(case: Case, made: Path, facts: dict[str, Any], *, now: datetime) -> None:
    if len(facts["sheets"]) > MOST_SHEETS:
        text = "This is too long to be looked through frame by frame. Choose a shorter swing."
        jobs.fail(case, now=now, code="too_long", text=text)
        return
    key = new_key("cases")
    for path in sorted(made.iterdir()):
        keep_file(path, f"{key}/{path.name}")
    with transaction.atomic():
        is_ours = jobs.finish(case, now=now)
        if is_ours:
            Case.objects.filter(pk=case.pk).update(folder_key=key, facts=facts, looked=[])
    if not is_ours:
        drop_folder(key)


def requeue_lost_cases(now: datetime) -> int:
    """For the sweep."""
    ids = jobs.requeue_lost(
        Case.objects.all(), now=now, most=settings.JOB_MAX_ATTEMPTS, silent_for=settings.JOB_LEASE
    )
    for case_id in ids:
        send(case_id)
    return len(ids)
