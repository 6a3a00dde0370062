from __future__ import annotations

import hashlib
from datetime import timedelta

import pytest

from coachhub.accounts.domain.tokens import MOST, live_tokens, make_token, revoke_all, revoke_token, token_for
from coachhub.accounts.models import ApiToken
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from tests.factories import NOW, make_user

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


def made(person, name="statistics", days=30, may_write=False, now=NOW):
    return make_token(person, name=name, days=days, may_write=may_write, by=person, now=now)


def test_the_key_itself_is_kept_nowhere() -> None:
    token, key = made(make_user())
    row = ApiToken.objects.filter(pk=token.pk).values().get()
    assert key not in repr(row)
    assert row["digest"] == hashlib.sha256(key.encode()).hexdigest()
    # 32 random bytes: RFC 6750, section 5.1, asks for keys that can't be guessed; 128 bits is the usual floor.
    assert len(key) - len("chk_") >= 43


def test_a_key_finds_its_person_until_it_ends() -> None:
    person = make_user()
    token, key = made(person)
    found = token_for(key, now=NOW)
    assert found is not None and found.person == person
    assert token_for(key, now=NOW + timedelta(days=30)) is None
    assert token_for(key[:-1] + ("A" if key[-1] != "A" else "B"), now=NOW) is None
    assert token_for("", now=NOW) is None
    revoke_token(token, by=person, now=NOW)
    assert token_for(key, now=NOW) is None


def test_an_account_that_is_switched_off_has_no_key() -> None:
    person = make_user()
    _, key = made(person)
    person.is_active = False
    person.save(update_fields=["is_active"])
    assert token_for(key, now=NOW) is None


def test_use_is_noted_but_not_at_every_call() -> None:
    token, key = made(make_user())
    token_for(key, now=NOW)
    token_for(key, now=NOW + timedelta(minutes=1))
    token.refresh_from_db()
    assert token.last_used_at == NOW
    token_for(key, now=NOW + timedelta(minutes=6))
    token.refresh_from_db()
    assert token.last_used_at == NOW + timedelta(minutes=6)


def test_bad_wishes_are_refused_and_change_nothing() -> None:
    person = make_user()
    with pytest.raises(RuleBroken, match="name"):
        made(person, name="  ")
    with pytest.raises(ValueError, match="days must be one of"):
        made(person, days=31)
    for _ in range(MOST):
        made(person)
    with pytest.raises(RuleBroken, match="End one"):
        made(person)
    assert live_tokens(person, now=NOW).count() == MOST


def test_ending_twice_is_recorded_once() -> None:
    person = make_user()
    token, _ = made(person)
    revoke_token(token, by=person, now=NOW)
    again = revoke_token(token, by=person, now=NOW + timedelta(hours=1))
    assert again.revoked_at == NOW
    assert Event.objects.filter(verb="token.ended").count() == 1


def test_all_of_a_person_end_and_nobody_elses() -> None:
    person, other = make_user(), make_user()
    made(person), made(person)
    _, others = made(other)
    assert revoke_all(person, by=person, now=NOW) == 2
    assert not live_tokens(person, now=NOW).exists()
    assert token_for(others, now=NOW) is not None
