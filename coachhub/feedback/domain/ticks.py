"""Which pain alerts a student ticked, and which of them still stand in a camp."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from coachhub.accounts.models import AlertCleared, Intake, User
from coachhub.videos.models import Submission

# Where it was ticked, and which box.
Tick = tuple[str, str]


def standing_flags(
    student_id: int, scope: UUID, intake: Intake | None, submissions: Iterable[Submission]
) -> list[str]:
    """The boxes that are ticked and not cleared in this camp, each once."""
    told = standing_ticks(student_id, scope, intake, submissions)
    return list(dict.fromkeys(flag for _, flag in told))


def standing_ticks(
    student_id: int, scope: UUID, intake: Intake | None, submissions: Iterable[Submission]
) -> list[Tick]:
    told = [(f"intake:{intake.public_id}", flag) for flag in intake.red_flags] if intake else []
    for one in submissions:
        told += [(f"submission:{one.public_id}", flag) for flag in one.red_flags]
    # Most students ticked nothing: then nothing is asked of the database.
    cleared = _cleared(student_id, scope) if told else frozenset()
    return [tick for tick in told if tick not in cleared]


def _cleared(student_id: int, scope: UUID) -> frozenset[Tick]:
    rows = AlertCleared.objects.filter(student_id=student_id, scope_id=scope)
    return frozenset((where, flag) for ticks in rows.values_list("ticks", flat=True) for where, flag in ticks)


def cleared_in(student: User, scope: UUID) -> list[AlertCleared]:
    """What was cleared in this camp, the newest first. For pages of people who may see the student."""
    rows = AlertCleared.objects.filter(student=student, scope_id=scope)
    return list(rows.select_related("cleared_by"))
