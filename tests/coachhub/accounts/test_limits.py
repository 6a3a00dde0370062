from __future__ import annotations

import re
from datetime import timedelta

import pytest

from coachhub.accounts.domain import limits
from coachhub.accounts.enums import AttemptKind
from coachhub.accounts.models import Attempt
from coachhub.common.domain.errors import RuleBroken
from tests.factories import NOW, make_user

pytestmark = [pytest.mark.integration, pytest.mark.django_db]

ME = {"address": "me@example.org", "origin": "192.0.2.1"}


def blocked(now=NOW, **who: str) -> bool:
    return limits.blocked(AttemptKind.SIGN_IN, now=now, **(ME | who))


def fail(times: int, now=NOW, **who: str) -> None:
    for _ in range(times):
        limits.count(AttemptKind.SIGN_IN, now=now, **(ME | who))


def test_the_sixth_wrong_password_closes_the_door_for_a_quarter_of_an_hour() -> None:
    fail(5)
    assert not blocked()
    fail(1)
    assert blocked()
    assert blocked(NOW + timedelta(minutes=14, seconds=59))
    assert not blocked(NOW + timedelta(minutes=15))


def test_spelling_an_address_differently_does_not_help() -> None:
    fail(6)
    assert blocked(address=" ME@Example.ORG ")


def test_nobody_else_is_locked_out_by_it() -> None:
    fail(6)
    assert not blocked(address="you@example.org")
    assert not blocked(origin="192.0.2.9")


def test_one_origin_trying_many_people_is_stopped() -> None:
    for number in range(60):
        fail(1, address=f"p{number}@example.org")
    assert blocked(address="fresh@example.org")


def test_the_right_password_clears_the_pair_only() -> None:
    fail(6)
    fail(6, address="you@example.org")
    limits.forget(AttemptKind.SIGN_IN, **ME)
    assert not blocked()
    assert blocked(address="you@example.org")


def test_kinds_are_counted_apart() -> None:
    fail(6)
    assert not limits.blocked(AttemptKind.RESET, now=NOW, **ME)


def test_no_address_is_stored_and_old_rows_go() -> None:
    fail(1)
    assert all(re.fullmatch("[0-9a-f]{64}", row.key) for row in Attempt.objects.all())
    fail(1, now=NOW + timedelta(days=1, seconds=1))
    assert Attempt.objects.count() == 2


def test_what_a_person_does_too_often_is_refused_as_a_whole() -> None:
    person, other = make_user(), make_user()
    most = limits.PER_PERSON[AttemptKind.INVITE].most
    limits.spend(AttemptKind.INVITE, person=person, now=NOW, times=most - 1)
    with pytest.raises(RuleBroken, match="Wait a while"):
        limits.spend(AttemptKind.INVITE, person=person, now=NOW, times=2)
    limits.spend(AttemptKind.INVITE, person=person, now=NOW)
    limits.spend(AttemptKind.INVITE, person=other, now=NOW)
    limits.spend(AttemptKind.UPLOAD, person=person, now=NOW)
    limits.spend(AttemptKind.INVITE, person=person, now=NOW + timedelta(hours=1, seconds=1), times=most)
