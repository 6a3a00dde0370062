"""Keys of a person's own programs: made once, shown once, kept as a digest, ended at any time."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from django.db import models, transaction

from coachhub.accounts.models import User
from coachhub.accounts.token_models import ApiToken
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record

# A fixed beginning lets secret scanners find a key that was published by mistake.
BEGINNING = "chk_"
MOST = 10
LIFETIMES = (30, 90, 365)
NOTED_EVERY = timedelta(minutes=5)


def make_token(
    person: User, *, name: str, days: int, may_write: bool, by: User, now: datetime
) -> tuple[ApiToken, str]:
    """The row and the key itself, which is not kept anywhere."""
    words = " ".join(name.split())[:60]
    if not words:
        raise RuleBroken("needs_a_name", "Give the key a name, so that you know later what uses it.")
    if days not in LIFETIMES:
        raise ValueError(f"days must be one of {LIFETIMES}, not {days!r}")
    with transaction.atomic():
        # The row of the person holds the count still.
        User.objects.select_for_update().get(pk=person.pk)
        if live_tokens(person, now=now).count() >= MOST:
            raise RuleBroken("too_many_keys", f"You have {MOST} keys. End one that you don't use any more.")
        key = BEGINNING + secrets.token_urlsafe(32)
        token = ApiToken.objects.create(
            person=person,
            name=words,
            digest=_digest(key),
            ending=key[-4:],
            may_write=may_write,
            expires_at=now + timedelta(days=days),
            created_at=now,
        )
        record("token.made", token, by=by, now=now)
    return token, key


def live_tokens(person: User, *, now: datetime) -> models.QuerySet[ApiToken]:
    return ApiToken.objects.filter(person=person, revoked_at=None, expires_at__gt=now)


def token_for(key: str, *, now: datetime) -> ApiToken | None:
    """The live token of this key whose person may still sign in; notes the use, not more often than needed."""
    if not key.startswith(BEGINNING):
        return None
    token = (
        ApiToken.objects.select_related("person")
        .filter(digest=_digest(key), revoked_at=None, expires_at__gt=now, person__is_active=True)
        .first()
    )
    if token is not None and (token.last_used_at is None or token.last_used_at < now - NOTED_EVERY):
        ApiToken.objects.filter(pk=token.pk).update(last_used_at=now)
    return token


@transaction.atomic
def revoke_token(token: ApiToken, *, by: User, now: datetime) -> ApiToken:
    """End a key; ending it twice changes nothing."""
    if ApiToken.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=now):
        record("token.ended", token, by=by, now=now)
    token.refresh_from_db()
    return token


@transaction.atomic
def revoke_all(person: User, *, by: User, now: datetime) -> int:
    """End every key of the person; how many there were."""
    held = ApiToken.objects.filter(person=person, revoked_at=None)
    return len([revoke_token(token, by=by, now=now) for token in held])


def _digest(key: str) -> str:
    # 256 random bits need no slow hash: nobody can guess one.
    return hashlib.sha256(key.encode()).hexdigest()
