"""The camp's people: made once, through the same ways in as everybody."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from django.test import Client

from coachhub.accounts.models import Intake, User
from coachhub.camps.enums import Role
from coachhub.camps.models import Camp, Invitation, Membership
from coachhub.common.models import Event
from coachhub.progress.demo import people, scenario

pytestmark = [pytest.mark.django_db, pytest.mark.integration]
TODAY, NOW = date(2026, 6, 10), datetime(2026, 6, 10, 9, 30, tzinfo=UTC)


def counts() -> tuple[int, ...]:
    return tuple(model.objects.count() for model in (User, Camp, Membership, Intake, Invitation, Event))


def test_everybody_is_there_and_loading_again_changes_nothing() -> None:
    told = scenario.read()
    camp = people.make_people(told, today=TODAY, now=NOW)
    before = counts()
    assert before[:2] == (14, 1)
    assert Membership.objects.filter(camp=camp, role=Role.STUDENT).count() == Intake.objects.count() == 10
    assert Membership.objects.filter(camp=camp, role=Role.COACH).values("user").distinct().count() == 2
    assert people.make_people(told, today=date(2026, 6, 13), now=NOW) == camp
    assert counts() == before


def test_the_camps_days_stay_when_it_is_loaded_again_later() -> None:
    told = scenario.read()
    camp = people.make_people(told, today=TODAY, now=NOW)
    assert (camp.starts_on, camp.ends_on) == (date(2026, 5, 16), date(2026, 6, 12))
    assert people.calendar_of(told, camp).today == TODAY


def test_whoever_is_named_can_sign_in(client: Client) -> None:
    told = scenario.read()
    people.make_people(told, today=TODAY, now=NOW)
    said = people.introduce(told)
    for user in User.objects.all():
        assert f" {user.email}" in said
        assert client.login(email=user.email, password=scenario.PASSWORD)
    assert said.count("@") == 14


def test_joining_happened_before_the_first_swing() -> None:
    told = scenario.read()
    camp = people.make_people(told, today=TODAY, now=NOW)
    calendar = people.calendar_of(told, camp)
    for student in told.students:
        joined = Membership.objects.get(user__email=student.person["email"]).created_at
        assert joined < calendar.at(student.story[0]["day"], student.story[0]["time"])
        assert Intake.objects.get(user__email=student.person["email"]).created_at > joined
