from __future__ import annotations

from datetime import datetime
from zoneinfo import available_timezones

from django.conf import settings
from django.db import IntegrityError, transaction

from coachhub.accounts.enums import Units
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record

LONGEST_NAME = 80


def register(email: str, *, name: str, password: str, time_zone: str, now: datetime) -> User:
    """Make an account. The caller has checked the password against the validators."""
    fields = {"name": _name(name), "time_zone": _zone(time_zone), "created_at": now}
    try:
        with transaction.atomic():
            person = User.objects.create_user(email, password, **fields)
            record("person.registered", person, by=person, now=now)
    except IntegrityError as error:
        raise RuleBroken(
            "address_taken", "There is an account with this e-mail address already. Sign in with it instead."
        ) from error
    return person


@transaction.atomic
def edit_person(
    person: User, *, name: str, time_zone: str, units: str = Units.METRIC, by: User, now: datetime
) -> User:
    person.name, person.time_zone, person.units = _name(name), _zone(time_zone), Units(units)
    person.save(update_fields=["name", "time_zone", "units"])
    record("person.edited", person, by=by, now=now)
    return person


def choose_language(person: User, code: str) -> None:
    """In which language the site and its letters speak to this person."""
    if code not in dict(settings.LANGUAGES):
        raise ValueError(f"code must be one of {list(dict(settings.LANGUAGES))}, not {code!r}")
    person.language = code
    person.save(update_fields=["language"])


def _name(name: str) -> str:
    words = " ".join(name.split())
    if not 1 <= len(words) <= LONGEST_NAME:
        raise ValueError(f"name must have 1 to {LONGEST_NAME} characters, not {len(words)}")
    return words


def _zone(time_zone: str) -> str:
    if time_zone not in available_timezones():
        raise ValueError(f"time_zone must be a name of the IANA time zone database, not {time_zone!r}")
    return time_zone
