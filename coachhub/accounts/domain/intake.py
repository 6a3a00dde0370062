"""A student's answers before the first swing: versioned, for adults only, with the consents the work needs."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from datetime import datetime

from django.db import transaction

from coachhub.accounts.enums import AgeBand, Hand, Level, PainNow, PainSite, RedFlag
from coachhub.accounts.models import Intake, User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record

MOST_PRACTICE_HOURS = 60
MINOR = (
    "Thank you for wanting to take part. You are under 18, and for you a parent or guardian must agree and be able to "
    "read along. We can't offer that yet, so please don't go on. Nothing of what you answered here has been kept."
)


@dataclass(frozen=True)
class Answers:
    age_band: str
    handedness: str
    level: str
    clubs: str = ""
    miss_start: str = ""
    miss_curve: str = ""
    miss_strike: str = ""
    miss_height: str = ""
    intents: list[str] = field(default_factory=list)
    intent_words: str = ""
    goals: str = ""
    practice_hours: int = 2
    pain: str = PainNow.NONE
    pain_sites: list[str] = field(default_factory=list)
    pain_words: str = ""
    red_flags: list[str] = field(default_factory=list)
    agrees_analysis: bool = False
    agrees_feedback: bool = False
    agrees_cohort: bool = False


def current_intake(person: User) -> Intake | None:
    return Intake.objects.filter(user=person).order_by("-created_at", "-id").first()


@transaction.atomic
def save_intake(person: User, answers: Answers, *, by: User, now: datetime) -> Intake:
    """Keep a new version of the answers. A minor's are refused before anything is written."""
    if answers.age_band == AgeBand.UNDER_18:
        raise RuleBroken("under_18", MINOR)
    if not (answers.agrees_analysis and answers.agrees_feedback):
        raise RuleBroken(
            "needs_consent",
            "Without your agreement to measuring and to your coach seeing your videos, the camp can't work on them.",
        )
    _check(answers)
    intake = Intake.objects.create(user=person, created_at=now, **asdict(answers))
    record("intake.answered", intake, by=by, now=now)
    _tell_the_queue(person, now=now)
    return intake


def _tell_the_queue(person: User, *, now: datetime) -> None:
    from coachhub.feedback.domain.health import health_changed  # upward: next stage

    health_changed(person, now=now)


def _check(answers: Answers) -> None:
    one_of = (("age_band", AgeBand), ("handedness", Hand), ("level", Level), ("pain", PainNow))
    for name, allowed in one_of:
        if getattr(answers, name) not in allowed.values:
            raise ValueError(f"{name} must be one of {allowed.values}, not {getattr(answers, name)!r}")
    for name, several in (("pain_sites", PainSite), ("red_flags", RedFlag)):
        unknown = sorted(set(getattr(answers, name)) - set(several.values))
        if unknown:
            raise ValueError(f"{name} must be among {several.values}, not {unknown}")
    if not 0 <= answers.practice_hours <= MOST_PRACTICE_HOURS:
        raise ValueError(f"practice_hours must be 0 to {MOST_PRACTICE_HOURS}, not {answers.practice_hours!r}")
