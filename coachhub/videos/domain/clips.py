"""The life of one clip: received, found playable, judged usable or refused with a reason."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, TypedDict, Unpack

from django.db import transaction
from django.db.models import Max

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.rules import can
from coachhub.videos.domain.consents import may_be_measured
from coachhub.videos.domain.files import drop_files, keep_file, new_key
from coachhub.videos.domain.jobs import request_work
from coachhub.videos.domain.submissions import refuse_unless_taking_part, settle_submission
from coachhub.videos.enums import CLIP_MOVES, MOST_CLIPS, ClipState, ClipWork, View
from coachhub.videos.models import Clip, Reference, Submission
from coachhub.videos.rules import TAKES_CLIPS

LONGEST_NAME = 120


class Facts(TypedDict):
    """What the check found out about a clip's pictures."""

    duration_s: float
    fps: float
    frame_count: int
    width: int
    height: int
    codec: str
    has_audio: bool


class Arrival(TypedDict):
    """A complete file that came in; the caller removes the local one afterwards."""

    source_path: Path
    size: int
    sha256: str
    file_name: str


def add_clip(
    submission: Submission, *, view: str, by: User, now: datetime, **arrival: Unpack[Arrival]
) -> Clip:
    """Take a complete file into the submission and have it checked.

    Raises RuleBroken for what the sender can mend: the same clip twice, a seventh clip, a submission that is over.
    """
    if view not in View.values:
        raise ValueError(f"view must be one of {View.values}, not {view!r}")
    with _kept_under() as key:
        # The lock makes two files that arrive at the same moment get two numbers.
        submission = Submission.objects.select_for_update().get(pk=submission.pk)
        _refuse_unless_it_fits(submission, arrival["sha256"], by)
        clip = Clip(submission=submission, number=_next_number(submission), view=view)
        _receive(clip, key, arrival, by=by, now=now)
        settle_submission(submission, now=now)
        return clip


def add_reference_clip(reference: Reference, *, by: User, now: datetime, **arrival: Unpack[Arrival]) -> Clip:
    """Take a complete file as the film of a reference and have it checked; a refused film gives way to it."""
    with _kept_under() as key:
        reference = Reference.objects.select_for_update().get(pk=reference.pk)
        refuse_unless_open_for_a_film(reference, by)
        Clip.objects.filter(reference=reference, state=ClipState.REFUSED).delete()
        clip = Clip(reference=reference, number=1, view=reference.view)
        _receive(clip, key, arrival, by=by, now=now)
        return clip


@contextmanager
def _kept_under() -> Iterator[str]:
    """A transaction and the key for its file; where it fails, no file stays there."""
    key = new_key("originals")
    try:
        with transaction.atomic():
            yield key
    except BaseException:
        drop_files([key])
        raise


def _receive(clip: Clip, key: str, arrival: Arrival, *, by: User, now: datetime) -> None:
    keep_file(arrival["source_path"], key)
    clip.file_name = shown_name(arrival["file_name"])
    clip.sha256, clip.size = arrival["sha256"], arrival["size"]
    clip.original_key, clip.created_at = key, now
    clip.save(force_insert=True)
    record("clip.received", clip, by=by, now=now, scope=clip.camp.public_id)
    request_work(clip, ClipWork.CHECK, now=now)


def refuse_unless_open_for_a_film(reference: Reference, by: User) -> None:
    if not can(by, "videos.edit_reference", reference):
        raise RuleBroken("not_yours", "Only the coach who made this reference can give it a film.")
    if Clip.objects.filter(reference=reference).exclude(state=ClipState.REFUSED).exists():
        raise RuleBroken("has_film", "This reference has its film already. Make a new one for another film.")


def _is_demonstration(clip: Clip) -> bool:
    """Hands or set-up are shown without a swing; that nothing was measured is no fault of such a film."""
    return clip.reference is not None and not clip.reference.needs_swing


def _settle_home(clip: Clip, *, now: datetime) -> None:
    if clip.submission is not None:
        settle_submission(clip.submission, now=now)


def shown_name(name: str) -> str:
    """A file's name as a label: the last part, without control characters. Never a path, never a key."""
    last = name.replace("\\", "/").rpartition("/")[2]
    printable = "".join(letter for letter in last if letter.isprintable())
    return printable.strip(" .")[:LONGEST_NAME]


def _refuse_unless_it_fits(submission: Submission, sha256: str, by: User) -> None:
    refuse_unless_open_for_clips(submission, by)
    same = submission.clips.filter(sha256=sha256).first()
    if same is not None:
        raise RuleBroken(
            "same_clip", f"This is the same video as clip {same.number}, so it was not added a second time."
        )


def refuse_unless_open_for_clips(submission: Submission, by: User) -> None:
    """Refuse what can be refused before the file is here."""
    if submission.student_id != by.pk:
        raise RuleBroken("not_yours", "Only the student who filmed these swings can add clips.")
    if submission.state not in TAKES_CLIPS:
        raise RuleBroken(
            "takes_no_clips",
            "This submission takes no more clips. Start a new one for your next range session.",
        )
    refuse_unless_taking_part(submission.student, submission.cohort)
    if submission.clips.count() >= MOST_CLIPS:
        raise RuleBroken(
            "too_many_clips",
            f"A submission holds {MOST_CLIPS} clips. Send this one with your next submission.",
        )


def _next_number(submission: Submission) -> int:
    highest: int | None = submission.clips.aggregate(highest=Max("number"))["highest"]
    return (highest or 0) + 1


@transaction.atomic
def mark_playable(
    clip: Clip, facts: Facts, *, now: datetime, warnings: Sequence[dict[str, str]] = ()
) -> bool:
    """The check passed: have it measured at once, and made playable everywhere beside it. False: it moved before."""
    if not _move(clip, ClipState.PLAYABLE, warnings=list(warnings), **facts):
        return False
    record("clip.playable", clip, by=None, now=now, scope=clip.camp.public_id)

    from coachhub.swings.domain.runs import request_run  # upward: next stage

    # The measuring is asked for first: the readout is what people wait for.
    if may_be_measured(clip):
        request_run(clip, now=now)
    request_work(clip, ClipWork.RENDITION, now=now)
    return True


@transaction.atomic
def refuse_clip(clip: Clip, *, code: str, text: str, now: datetime) -> bool:
    """Say why the clip can't be used. False: it was judged before."""
    if not _move(clip, ClipState.REFUSED, sources=_OPEN, refused_code=code[:60], refused_text=text):
        return False
    record("clip.refused", clip, by=None, now=now, scope=clip.camp.public_id, code=code)
    _settle_home(clip, now=now)
    return True


@transaction.atomic
def settle_clip(
    clip: Clip,
    *,
    usable: bool,
    code: str = "",
    text: str = "",
    warnings: Sequence[dict[str, str]] = (),
    now: datetime,
) -> bool:
    """The measuring ended: the clip is usable, or refused with a reason. False: it was judged before."""
    if not usable and _is_demonstration(clip):
        usable, warnings = True, ()
    if not usable:
        return refuse_clip(clip, code=code, text=text, now=now)
    clip = Clip.objects.select_for_update().get(pk=clip.pk)
    known = {warning["code"] for warning in clip.warnings}
    added = [dict(warning) for warning in warnings if warning["code"] not in known]
    if not _move(clip, ClipState.USABLE, sources=(ClipState.PLAYABLE,), warnings=[*clip.warnings, *added]):
        return False
    record("clip.usable", clip, by=None, now=now, scope=clip.camp.public_id)
    _settle_home(clip, now=now)
    return True


@transaction.atomic
def allow_refused_clip(clip: Clip, *, by: User, now: datetime) -> bool:
    """A coach looks at a clip that the machine refused. False: it is usable already."""
    clip = Clip.objects.select_for_update().get(pk=clip.pk)
    if clip.state == ClipState.USABLE:
        return False
    if clip.state != ClipState.REFUSED or clip.frame_count is None:
        raise RuleBroken("not_playable", "This clip can't be played, so there is nothing to look at.")
    _move(clip, ClipState.USABLE, sources=(ClipState.REFUSED,), refused_code="", refused_text="")
    record("clip.allowed", clip, by=by, now=now, scope=clip.camp.public_id)
    _settle_home(clip, now=now)
    return True


@transaction.atomic
def add_warning(clip: Clip, *, code: str, sentence: str) -> None:
    clip = Clip.objects.select_for_update().get(pk=clip.pk)
    if code not in {warning["code"] for warning in clip.warnings}:
        Clip.objects.filter(pk=clip.pk).update(
            warnings=[*clip.warnings, {"code": code, "sentence": sentence}]
        )


_OPEN = (ClipState.RECEIVED, ClipState.PLAYABLE)


def _move(clip: Clip, to: str, *, sources: Sequence[str] = (), **fields: Any) -> bool:
    allowed = [state for state, moves in CLIP_MOVES.items() if to in moves]
    if sources:
        allowed = [state for state in allowed if state in sources]
    hit = Clip.objects.filter(pk=clip.pk, state__in=allowed).update(state=to, **fields)
    if hit:
        clip.refresh_from_db()
    return bool(hit)
