"""A student's answers before the first swing: versioned, asked again when they are old.

An adult agrees to what the work needs with the first version; for a minor a guardian does, on pages of their own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, field, fields
from datetime import date, datetime, timedelta

from django.db import transaction

from coachhub.accounts.domain import consent
from coachhub.accounts.domain.minors import is_minor
from coachhub.accounts.enums import AgeBand, Hand, Level, PainNow, PainSite, RedFlag
from coachhub.accounts.models import Consent, Intake, User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record

MOST_PRACTICE_HOURS = 60
# After this the answers are asked again: "still so?"
STALE_WEEKS = 8
# Answers that old, or older, when a camp begins are asked again for it.
FRESH_BEFORE_A_CAMP = timedelta(days=14)


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


def current_intake(person: User) -> Intake | None:
    return Intake.objects.filter(user=person).order_by("-created_at", "-id").first()


@transaction.atomic
def save_intake(
    person: User, answers: Answers, *, by: User, now: datetime, agrees: Iterable[str] = ()
) -> Intake:
    """Keep a new version of the answers. ``agrees``: what an adult agrees to with it; asked with the first one."""
    minor = is_minor(person, now=now)
    if minor is not (answers.age_band == AgeBand.UNDER_18):
        raise RuleBroken(
            "age", "Under 18, the month of birth belongs to it." if not minor else "You are under 18 here."
        )
    purposes = set(agrees)
    if asks_for_consent(person, now=now) and not purposes >= set(consent.NEEDED_TO_SEND):
        raise RuleBroken(
            "needs_consent",
            "Without your agreement to measuring and to your coach seeing your videos, the camp can't work on them.",
        )
    _check(answers)
    intake = Intake.objects.create(user=person, created_at=now, **asdict(answers))
    record("intake.answered", intake, by=by, now=now)
    if purposes:
        consent.give(person, purposes, by=by, now=now)
    _tell_the_queue(person, now=now)
    return intake


def asks_for_consent(person: User, *, now: datetime) -> bool:
    """An adult who has never said yes or no."""
    said = Consent.objects.filter(person=person, by=person, is_given=True)
    return not is_minor(person, now=now) and not said.exists()


@transaction.atomic
def confirm_intake(person: User, *, by: User, now: datetime) -> Intake:
    """Still so: the same answers as a version of today."""
    before = current_intake(person)
    if before is None:
        raise RuleBroken("no_intake", "Answer the questions about you first.")
    same = {one.name: getattr(before, one.name) for one in fields(Answers)}
    return save_intake(person, Answers(**same), by=by, now=now)


def is_stale(
    intake: Intake, *, now: datetime, weeks: int = STALE_WEEKS, starts_on: date | None = None
) -> bool:
    """Older than that many weeks, given long before a camp that begins within two weeks, or of a minor grown up."""
    if now - intake.created_at > timedelta(weeks=weeks):
        return True
    if intake.age_band == AgeBand.UNDER_18 and not is_minor(intake.user, now=now):
        return True
    if starts_on is None or starts_on > (now + FRESH_BEFORE_A_CAMP).date():
        return False
    return intake.created_at.date() < starts_on - FRESH_BEFORE_A_CAMP


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
