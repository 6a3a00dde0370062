"""How often a password may be guessed and a letter asked for; counted in the database, so for all processes at once.

A wrong password counts twice: for the pair of address and origin (somebody guessing one person's password) and for
the origin alone (somebody trying many people). The right password clears the pair. Not counted per address alone:
that would let anybody lock somebody else out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.crypto import salted_hmac

from coachhub.accounts.enums import AttemptKind
from coachhub.accounts.models import Attempt, User
from coachhub.common.domain.errors import RuleBroken


@dataclass(frozen=True)
class Limit:
    most: int
    within: timedelta


PER_PAIR: dict[str, Limit] = {
    AttemptKind.SIGN_IN: Limit(6, timedelta(minutes=15)),
    AttemptKind.RESET: Limit(3, timedelta(hours=1)),
    AttemptKind.CODE: Limit(6, timedelta(minutes=15)),
    AttemptKind.ADDRESS: Limit(5, timedelta(hours=1)),
}
# A whole clubhouse may share one origin.
PER_ORIGIN: dict[str, Limit] = {
    AttemptKind.SIGN_IN: Limit(60, timedelta(minutes=15)),
    AttemptKind.RESET: Limit(20, timedelta(hours=1)),
    AttemptKind.CODE: Limit(60, timedelta(minutes=15)),
    AttemptKind.ADDRESS: Limit(40, timedelta(hours=1)),
}
# What somebody signed in may do so often: the longest list of people, and a few submissions of six clips on a bad
# network.
PER_PERSON: dict[str, Limit] = {
    AttemptKind.INVITE: Limit(600, timedelta(hours=1)),
    AttemptKind.UPLOAD: Limit(120, timedelta(hours=1)),
}
KEPT = timedelta(days=1)


def _pair(address: str, origin: str) -> str:
    return _digest(f"{address.strip().lower()}\n{origin}")


def _digest(text: str) -> str:
    return salted_hmac("accounts.limits", text, algorithm="sha256").hexdigest()


def _counted(kind: str, address: str, origin: str) -> Iterator[tuple[str, Limit]]:
    yield _pair(address, origin), PER_PAIR[kind]
    yield _digest(origin), PER_ORIGIN[kind]


def blocked(kind: str, *, address: str, origin: str, now: datetime) -> bool:
    return any(
        Attempt.objects.filter(kind=kind, key=key, at__gt=now - limit.within).count() >= limit.most
        for key, limit in _counted(kind, address, origin)
    )


def count(kind: str, *, address: str, origin: str, now: datetime) -> None:
    Attempt.objects.filter(at__lt=now - KEPT).delete()
    keys = (key for key, _ in _counted(kind, address, origin))
    Attempt.objects.bulk_create(Attempt(kind=kind, key=key, at=now) for key in keys)


def forget(kind: str, *, address: str, origin: str) -> None:
    Attempt.objects.filter(kind=kind, key=_pair(address, origin)).delete()


def spend(kind: str, *, person: User, now: datetime, times: int = 1) -> None:
    """Count what a signed-in person does ``times`` at once, or refuse all of it."""
    limit, key = PER_PERSON[kind], _digest(f"person\n{person.pk}")
    used = Attempt.objects.filter(kind=kind, key=key, at__gt=now - limit.within).count()
    if used + times > limit.most:
        raise RuleBroken(
            "too_often", f"That is more than {limit.most} within an hour. Wait a while; nothing is lost."
        )
    Attempt.objects.bulk_create(Attempt(kind=kind, key=key, at=now) for _ in range(times))
