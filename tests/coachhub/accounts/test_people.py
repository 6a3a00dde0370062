from __future__ import annotations

import pytest

from coachhub.accounts.domain.people import edit_person, register
from coachhub.accounts.forms import time_zone_choices
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


def make(email: str = "New.One@Example.org", **fields: str) -> User:
    given = {"name": "  New   One ", "password": "paper-lantern-9", "time_zone": "Europe/Oslo"}
    return register(email, now=NOW, **(given | fields))


def test_a_new_account_signs_in_with_its_address_in_any_case() -> None:
    person = make()
    assert (person.email, person.name) == ("new.one@example.org", "New One")
    assert User.objects.get_by_natural_key("NEW.one@example.ORG") == person
    assert person.check_password("paper-lantern-9")
    assert not person.may_make_camps


def test_one_address_has_one_account() -> None:
    make()
    with pytest.raises(RuleBroken) as caught:
        make("NEW.ONE@example.org")
    assert caught.value.code == "address_taken"
    assert User.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "value"), [("name", "   "), ("name", "x" * 81), ("time_zone", "Mars/Olympus")]
)
def test_odd_values_are_refused_by_name(field: str, value: str) -> None:
    with pytest.raises(ValueError, match=field):
        make(**{field: value})
    assert not User.objects.exists()


def test_editing_is_recorded_without_names() -> None:
    person = factories.make_user("Old Name")
    edit_person(person, name="Newer Name", time_zone="Europe/Oslo", by=person, now=NOW)
    person.refresh_from_db()
    assert (person.name, person.time_zone) == ("Newer Name", "Europe/Oslo")
    event = Event.objects.get(verb="person.edited")
    assert event.actor == person
    assert "Name" not in str(event.detail)


def test_zones_are_offered_by_place_and_each_once() -> None:
    offered = [name for _, zones in time_zone_choices()[1:] for name, _ in zones]
    assert {"Europe/Lisbon", "Asia/Tokyo", "America/Argentina/Buenos_Aires"} <= set(offered)
    assert len(offered) == len(set(offered))
    assert not {"Factory", "EST5EDT", "Etc/GMT+5"} & set(offered)
    assert time_zone_choices()[0] == ("UTC", "UTC")
