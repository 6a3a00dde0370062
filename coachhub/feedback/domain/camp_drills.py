"""A camp's own drills: made, changed and taken out by its coaches. What was given once reads on as it was given."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from uuid import uuid4

from django.db import transaction

from coachhub.accounts.enums import PainSite
from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.rules import can
from coachhub.feedback.domain.adherence import times_a_week
from coachhub.feedback.library.figures import FIGURES
from coachhub.feedback.models import Drill, Lesson, Review
from coachhub.videos.models import Reference

EVIDENCE = "C: a coach's own drill, no study"
# What a drill can't do without.
NEEDED = {
    "name": "Give the drill a name.",
    "how": "Say how it is done.",
    "cue": "Give one cue: what to do with the club, the ball or the ground.",
    "dose": "Say how much, for example 3 sets of 8.",
    "progression": "Say what comes next when it goes well.",
    "stop_rule": "Say when to stop.",
}


@dataclass(frozen=True)
class DrillWords:
    name: str
    how: str
    cue: str
    dose: str
    per_week: str
    progression: str
    stop_rule: str
    club_and_speed: str = ""
    video_check: str = ""
    node: str = ""
    sign: str = ""
    avoid_sites: tuple[str, ...] = ()
    figure: str = ""


@transaction.atomic
def make_drill(
    camp: Camp, words: DrillWords, *, film: Reference | None = None, by: User, now: datetime
) -> Drill:
    _refuse_unless_teaching(camp, by)
    drill = Drill.objects.create(
        camp=camp,
        key=f"own-{uuid4().hex[:12]}",
        evidence=EVIDENCE,
        film=_checked_film(camp, film, by),
        created_at=now,
        **_fields(words),
    )
    record("drill.made", drill, by=by, now=now, scope=camp.public_id)
    return drill


@transaction.atomic
def edit_drill(
    drill: Drill, words: DrillWords, *, film: Reference | None = None, by: User, now: datetime
) -> Drill:
    """The changed drill. If it was given to somebody already, that one is taken out and another takes its place."""
    camp = _own_camp(drill, by)
    if drill.retired_at is not None:
        raise RuleBroken("retired", "This drill was taken out of the library. Make a new one.")
    if _was_given(drill):
        changed = make_drill(camp, words, film=film, by=by, now=now)
        retire_drill(drill, by=by, now=now)
        return changed
    for name, value in _fields(words).items():
        setattr(drill, name, value)
    drill.film = _checked_film(camp, film, by)
    drill.save()
    record("drill.edited", drill, by=by, now=now, scope=camp.public_id)
    return drill


@transaction.atomic
def retire_drill(drill: Drill, *, by: User, now: datetime) -> bool:
    """Out of the library; answers that gave it go on showing it. False: it was out already."""
    camp = _own_camp(drill, by)
    hit = Drill.objects.filter(pk=drill.pk, retired_at=None).update(retired_at=now)
    if hit:
        record("drill.retired", drill, by=by, now=now, scope=camp.public_id)
    return bool(hit)


def show_film(review: Review) -> None:
    """The film of the drill, to the student who gets it."""
    if review.drill is not None and review.drill.film is not None:
        review.drill.film.shown_to.add(review.submission.student)


def _was_given(drill: Drill) -> bool:
    """Drafts count: their coach chose the words that stand there now."""
    return Review.objects.filter(drill=drill).exists() or Lesson.objects.filter(drill=drill).exists()


def _own_camp(drill: Drill, by: User) -> Camp:
    if drill.camp is None:
        raise RuleBroken("shared", "The shared library's drills can't be changed. Make one for your camp.")
    _refuse_unless_teaching(drill.camp, by)
    return drill.camp


def _refuse_unless_teaching(camp: Camp, by: User) -> None:
    if not can(by, "feedback.teach", camp):
        raise RuleBroken("not_a_coach", "Only a coach of this camp can change its drills.")


def _fields(words: DrillWords) -> dict[str, object]:
    given: dict[str, object] = {
        name: value.replace("\x00", "").strip() if isinstance(value, str) else list(value)
        for name, value in asdict(words).items()
    }
    for name, sentence in NEEDED.items():
        if not given[name]:
            raise RuleBroken(name, sentence)
    if times_a_week(words.per_week) is None:
        raise RuleBroken("per_week", "Say on how many days a week, for example 3 times a week.")
    if set(words.avoid_sites) - set(PainSite.values):
        raise ValueError(f"avoid_sites must be among {PainSite.values}, not {words.avoid_sites!r}")
    if words.figure and words.figure not in FIGURES:
        raise ValueError(f"figure must be one of our drawings, not {words.figure!r}")
    return given


def _checked_film(camp: Camp, film: Reference | None, by: User) -> Reference | None:
    """Shared with the camp's coaches, or the coach's own: the student sees it with the drill."""
    if film is not None and not Reference.objects.usable_by(by).filter(pk=film.pk, camp=camp).exists():
        raise RuleBroken("film", "Choose a film of this camp's library.")
    return film
