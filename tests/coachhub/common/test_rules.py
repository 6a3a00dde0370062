from __future__ import annotations

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied

from coachhub.common import rules
from tests import factories

pytestmark = pytest.mark.unit

yes = rules.predicate(lambda user, obj: True)
no = rules.predicate(lambda user, obj: False)


@pytest.mark.parametrize(
    ("combined", "expected"),
    [
        (yes & yes, True),
        (yes & no, False),
        (no & yes, False),
        (yes | no, True),
        (no | no, False),
        (~no, True),
        (~yes, False),
        (yes & ~no | no, True),
        (no | yes & no, False),
    ],
)
def test_predicates_combine_like_booleans(combined: rules.Predicate, expected: bool) -> None:
    assert combined(None, None) is expected


def test_the_right_side_is_not_asked_when_the_left_decides() -> None:
    def explode(user: object, obj: object) -> bool:
        raise AssertionError("asked")

    loud = rules.predicate(explode)
    assert (no & loud)(None, None) is False
    assert (yes | loud)(None, None) is True


def test_an_unknown_action_is_an_error_and_not_a_no() -> None:
    with pytest.raises(ValueError, match=r"camps\.fly"):
        rules.can(AnonymousUser(), "camps.fly")


def test_one_action_has_one_rule() -> None:
    with pytest.raises(ValueError, match="registered once"):
        rules.rule("camps.edit", yes)


@pytest.mark.django_db
def test_nobody_and_a_switched_off_account_may_do_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(rules._rules, "test.anything", yes)
    person = factories.make_user()
    assert rules.can(person, "test.anything") is True
    person.is_active = False
    assert rules.can(person, "test.anything") is False
    assert rules.can(AnonymousUser(), "test.anything") is False
    with pytest.raises(PermissionDenied):
        rules.require(AnonymousUser(), "test.anything")
