from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from coachhub.camps.enums import MemberState, Role
from coachhub.camps.models import Camp, Cohort, Membership
from tests import factories
from tests.cast import Cast, make_cast

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

PLAN: dict[str, Any] = {
    "name": "Late Summer",
    "starts_on": "2026-09-01",
    "ends_on": "2026-09-28",
    "time_zone": "Europe/Oslo",
    "promise_hours": "36",
    "rest_days": ["6", "7"],
    "retention_days": "30",
}


@pytest.fixture
def cast(client: Client, db: None) -> Cast:
    cast = make_cast()
    client.force_login(cast.organiser)
    return cast


def test_a_camp_is_made_changed_closed_and_opened(client: Client) -> None:
    person = factories.make_user(may_make_camps=True)
    client.force_login(person)
    landed = client.post(reverse("organiser:camp-new"), PLAN)
    camp = Camp.objects.get()
    assert landed.headers["Location"] == reverse("organiser:camp", args=[camp.public_id])
    assert (camp.starts_on, camp.rest_days, camp.promise_hours) == (date(2026, 9, 1), [6, 7], 36)
    assert not camp.students_see_trends
    page = client.get(reverse("organiser:camp-edit", args=[camp.public_id])).content.decode()
    assert 'value="2026-09-28"' in page
    edit = PLAN | {"promise_hours": "72", "students_see_trends": "on"}
    client.post(reverse("organiser:camp-edit", args=[camp.public_id]), edit)
    client.post(reverse("organiser:camp-close", args=[camp.public_id]))
    camp.refresh_from_db()
    assert (camp.promise_hours, camp.students_see_trends, camp.state) == (72, True, "closed")
    client.post(reverse("organiser:camp-reopen", args=[camp.public_id]))
    camp.refresh_from_db()
    assert camp.state == "open"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"name": ""}, "This field is required"),
        ({"ends_on": "2026-08-31"}, "The last day lies before the first."),
        ({"ends_on": "2027-10-01"}, "Make two camps of it"),
        ({"starts_on": "soon"}, "Enter a valid date"),
        ({"time_zone": "Mars/Olympus"}, "Select a valid choice"),
        ({"promise_hours": "0"}, "greater than or equal to 1"),
        ({"promise_hours": "1000"}, "less than or equal to 336"),
        ({"rest_days": ["1", "2", "3", "4", "5", "6", "7"]}, "Untick one"),
        ({"rest_days": ["8"]}, "Select a valid choice"),
    ],
)
def test_a_plan_that_cannot_work_comes_back_with_a_sentence(
    client: Client, change: dict[str, Any], said: str
) -> None:
    client.force_login(factories.make_user(may_make_camps=True))
    answer = client.post(reverse("organiser:camp-new"), PLAN | change)
    assert answer.status_code == 200
    assert said in answer.content.decode()
    assert not Camp.objects.exists()


def test_a_cohort_is_made_once_and_renamed(client: Client, cast: Cast) -> None:
    make = reverse("organiser:cohort-new", args=[cast.camp.public_id])
    client.post(make, {"name": "Night"})
    answer = client.post(make, {"name": "Night"}, follow=True)
    assert "called “Night” already" in answer.content.decode()
    night = Cohort.objects.get(camp=cast.camp, name="Night")
    client.post(reverse("organiser:cohort-rename", args=[night.public_id]), {"rename-name": "Late"})
    night.refresh_from_db()
    assert night.name == "Late"
    assert client.post(make, {"name": ""}).status_code == 200


def test_a_coach_of_another_cohort_is_let_in(client: Client, cast: Cast) -> None:
    address = reverse("organiser:coach-add", args=[cast.cohort.public_id])
    client.post(address, {"coach": cast.coach_elsewhere.public_id})
    assert Membership.objects.filter(user=cast.coach_elsewhere, cohort=cast.cohort, role=Role.COACH).exists()
    client.post(address, {"coach": cast.outsider.public_id})
    assert not Membership.objects.filter(user=cast.outsider).exists()


def test_a_member_is_paused_resumed_and_ended(client: Client, cast: Cast) -> None:
    member = Membership.objects.get(user=cast.student)
    address = reverse("organiser:member-state", args=[member.public_id])
    for state in (MemberState.PAUSED, MemberState.ACTIVE, MemberState.LEFT):
        client.post(address, {"state": state})
        member.refresh_from_db()
        assert member.state == state
    answer = client.post(address, {"state": "paused"}, follow=True)
    assert "be set to" in answer.content.decode()
    member.refresh_from_db()
    assert member.state == MemberState.LEFT
    client.post(address, {"state": "king"})
    member.refresh_from_db()
    assert member.state == MemberState.LEFT


def test_the_last_organiser_cannot_end_their_own_part(client: Client, cast: Cast) -> None:
    member = Membership.objects.get(user=cast.organiser)
    answer = client.post(
        reverse("organiser:member-state", args=[member.public_id]), {"state": "left"}, follow=True
    )
    assert "A camp needs an organiser" in answer.content.decode()


def test_the_page_of_a_student_is_only_for_students(client: Client, cast: Cast) -> None:
    member = Membership.objects.get(user=cast.coach)
    assert client.get(reverse("organiser:student", args=[member.public_id])).status_code == 404


def test_another_camps_cohort_is_not_picked_through_the_filter(client: Client, cast: Cast) -> None:
    foreign = Cohort.objects.exclude(camp=cast.camp).get()
    for name in ("signs", "promise"):
        address = reverse(f"organiser:{name}", args=[cast.camp.public_id])
        assert client.get(address, {"cohort": cast.cohort.public_id}).status_code == 200
        assert client.get(address, {"cohort": foreign.public_id}).status_code == 404
        assert client.get(address, {"cohort": "nonsense"}).status_code == 404
