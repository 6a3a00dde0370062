from __future__ import annotations

import pytest
from django_otp.oath import totp
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from coachhub.accounts.domain import second_factor
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from tests.factories import NOW, make_user

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


def code_of(person: User, drift: int = 0) -> str:
    """What the app of this person shows now."""
    device = TOTPDevice.objects.get(user=person)
    return f"{totp(device.bin_key, step=device.step, t0=device.t0, digits=device.digits, drift=drift):06d}"


def with_second_factor(name: str = "Ada Coach") -> tuple[User, list[str]]:
    person = make_user(name)
    second_factor.begin(person)
    codes = second_factor.confirm(person, code_of(person), now=NOW)
    # The code that set it up counts as used; the next ones of this half minute would too.
    TOTPDevice.objects.filter(user=person).update(last_t=-1)
    return person, codes


def without_waiting(person: User) -> None:
    """The library makes one wait after a wrong code."""
    for model in (TOTPDevice, StaticDevice):
        model.objects.filter(user=person).update(throttling_failure_count=0)


@pytest.mark.parametrize(
    ("seconds", "code"),
    # RFC 6238, appendix B, SHA-1: eight digits there, of which the last six are what six digits give.
    [(59, 94287082), (1111111109, 7081804), (1234567890, 89005924), (2000000000, 69279037)],
)
def test_codes_are_those_of_the_standard(seconds: int, code: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django_otp.oath.time", lambda: float(seconds))
    assert totp(b"12345678901234567890", digits=8) == code
    assert totp(b"12345678901234567890", digits=6) == code % 1_000_000


def test_nothing_is_asked_for_before_a_code_was_right() -> None:
    person = make_user()
    second_factor.begin(person)
    assert not second_factor.has_second_factor(person)
    with pytest.raises(RuleBroken, match="doesn't fit"):
        second_factor.confirm(person, "000000" if code_of(person) != "000000" else "111111", now=NOW)
    assert not second_factor.has_second_factor(person)


def test_an_app_code_proves_once_and_spaces_do_not_matter() -> None:
    person, _ = with_second_factor()
    code = code_of(person)
    assert second_factor.proves(person, f"{code[:3]} {code[3:]}")
    assert not second_factor.proves(person, code), "a code that was read over a shoulder is worth nothing"


def test_another_persons_code_proves_nothing() -> None:
    person, _ = with_second_factor()
    codes = with_second_factor("Ben Coach")[1]
    assert not second_factor.proves(person, codes[0])


def test_each_recovery_code_works_once() -> None:
    person, codes = with_second_factor()
    assert len(set(codes)) == second_factor.RECOVERY_CODES
    assert second_factor.proves(person, codes[0].upper())
    assert not second_factor.proves(person, codes[0])
    assert second_factor.recovery_left(person) == second_factor.RECOVERY_CODES - 1


def test_new_recovery_codes_end_the_old_ones() -> None:
    person, old = with_second_factor()
    new = second_factor.renew_recovery(person, now=NOW)
    assert not set(old) & set(new)
    assert set(StaticToken.objects.values_list("token", flat=True)) == set(new)


def test_a_second_one_needs_the_first_off() -> None:
    person, _ = with_second_factor()
    with pytest.raises(RuleBroken, match="Turn it off"):
        second_factor.begin(person)
    second_factor.turn_off(person, by=person, now=NOW)
    assert not second_factor.has_second_factor(person) and second_factor.recovery_left(person) == 0
    second_factor.begin(person)
