"""Who is under 18, by the month of birth: until that month is over, so that nobody is taken for grown up too early."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from coachhub.accounts.models import Minor, User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record

GROWN_UP = 18
YOUNGEST = 5


def grows_up_on(year: int, month: int) -> date:
    """The first day on which somebody born in that month is 18, whatever the day was."""
    return date(year + GROWN_UP, month + 1, 1) if month < 12 else date(year + GROWN_UP + 1, 1, 1)


def age_of(minor: Minor, on: date) -> int:
    """Completed years, at least: the month of birth is taken as not over yet."""
    return on.year - minor.birth_year - (on.month <= minor.birth_month)


def minority_of(person: User) -> Minor | None:
    return Minor.objects.filter(person_id=person.pk).first()


def under_guard(person: User) -> bool:
    """Whether guardians answer for the person: until the sweep has carried out the coming of age."""
    return Minor.objects.filter(person_id=person.pk, grown_at=None).exists()


def is_minor(person: User, *, now: datetime) -> bool:
    """Under 18 by what is known. Somebody whose coming of age was not carried out yet still counts as one."""
    minor = Minor.objects.filter(person_id=person.pk).first()
    return minor is not None and counts_as_minor(minor, now=now)


def counts_as_minor(minor: Minor, *, now: datetime) -> bool:
    return minor.grown_at is None or grows_up_on(minor.birth_year, minor.birth_month) > now.date()


def check_birth(year: int, month: int, *, now: datetime) -> None:
    """Refuse a month that makes nobody a minor."""
    if not 1 <= month <= 12:
        raise ValueError(f"month must be 1 to 12, not {month!r}")
    today = now.date()
    if not today.year - GROWN_UP - 1 <= year <= today.year:
        raise RuleBroken("birth", "Give the month and year of birth of somebody who is under 18.")
    if grows_up_on(year, month) <= today:
        raise RuleBroken("grown_up", "Who was born in that month is 18 already. Choose “I am 18 or older”.")
    if today.year - year < YOUNGEST:
        raise RuleBroken("too_young", f"Camps are for people from {YOUNGEST} years on. Check the year.")


@transaction.atomic
def note_minor(person: User, *, year: int, month: int, by: User, now: datetime) -> Minor:
    """From now on guardians answer for the person, and nothing is worked on before one agreed."""
    from coachhub.accounts.domain.consent import recount

    check_birth(year, month, now=now)
    minor, is_new = Minor.objects.get_or_create(
        person=person, defaults={"birth_year": year, "birth_month": month, "created_at": now}
    )
    if is_new:
        record("minor.noted", minor, by=by, now=now)
        recount(person, now=now)
    return minor


@transaction.atomic
def correct_birth(minor: Minor, *, year: int, month: int, by: User, now: datetime) -> Minor:
    """A guardian or organiser puts the month right; never the minor, who could end the protection with it."""
    if by.pk == minor.person_id:
        raise RuleBroken("not_yours", "Ask your guardian or the organiser to correct this.")
    if not 1 <= month <= 12 or not 1900 <= year <= now.year:
        raise RuleBroken("birth", "Give a month and a year of birth.")
    grown = grows_up_on(year, month) <= now.date()
    Minor.objects.filter(pk=minor.pk).update(birth_year=year, birth_month=month)
    record("minor.birth_corrected", minor, by=by, now=now)
    minor.refresh_from_db()
    if grown is not (minor.grown_at is not None):
        _carry_out(minor, grown, now=now)
    return minor


def _carry_out(minor: Minor, grown: bool, *, now: datetime) -> None:
    from coachhub.accounts.domain.consent import recount
    from coachhub.accounts.domain.growing_up import come_of_age

    if grown:
        come_of_age(minor, now=now)
        return
    # Younger than thought: guardians have to be named and to agree anew.
    Minor.objects.filter(pk=minor.pk).update(grown_at=None)
    minor.refresh_from_db()
    recount(minor.person, now=now)
