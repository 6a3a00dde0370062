"""A second proof at signing in: codes of an authenticator app (RFC 6238), and recovery codes for a lost phone."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django_otp import match_token
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record

APP, RECOVERY = "app", "recovery"
RECOVERY_CODES = 10
WRONG = "This code doesn't fit. It changes every half minute: look again, and check the clock of your phone."


def has_second_factor(person: User) -> bool:
    return bool(TOTPDevice.objects.filter(user=person, confirmed=True).exists())


def begin(person: User) -> TOTPDevice:
    """A key for the authenticator app, of no effect before a code of it was given; the same one until then."""
    if has_second_factor(person):
        raise RuleBroken(
            "has_one", "You have a second factor already. Turn it off before you set up another."
        )
    device, _ = TOTPDevice.objects.get_or_create(user=person, confirmed=False, defaults={"name": APP})
    return device


@transaction.atomic
def confirm(person: User, code: str, *, now: datetime) -> list[str]:
    """The app shows the right code: from now on it is asked for. Gives the recovery codes, shown this once."""
    device = begin(person)
    if not device.verify_token(_digits(code)):
        raise RuleBroken("wrong_code", WRONG)
    device.confirmed = True
    device.save()
    record("second_factor.set_up", person, by=person, now=now)
    return renew_recovery(person, now=now)


@transaction.atomic
def renew_recovery(person: User, *, now: datetime) -> list[str]:
    """New recovery codes; the old ones end."""
    StaticDevice.objects.filter(user=person).delete()
    device = StaticDevice.objects.create(user=person, name=RECOVERY, confirmed=True)
    codes = [StaticToken.random_token() for _ in range(RECOVERY_CODES)]
    StaticToken.objects.bulk_create(StaticToken(device=device, token=code) for code in codes)
    record("second_factor.recovery_renewed", person, by=person, now=now)
    return codes


def recovery_left(person: User) -> int:
    return int(StaticToken.objects.filter(device__user=person).count())


def proves(person: User, code: str) -> bool:
    """Whether the code is the app's of now, not used before, or an unused recovery code. The library slows guessing."""
    return match_token(person, _digits(code)) is not None


@transaction.atomic
def turn_off(person: User, *, by: User, now: datetime) -> None:
    TOTPDevice.objects.filter(user=person).delete()
    StaticDevice.objects.filter(user=person).delete()
    record("second_factor.turned_off", person, by=by, now=now)


def _digits(code: str) -> str:
    return "".join(code.split()).lower()
