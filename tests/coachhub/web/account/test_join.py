from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from coachhub.accounts.models import User
from coachhub.camps.domain.invitations import invite, token_of, withdraw
from coachhub.camps.models import Invitation, Membership
from tests.cast import Cast, make_cast
from tests.factories import PASSWORD

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

NEW = {
    "email": "Newcomer@example.org",
    "name": "Nia Newcomer",
    "time_zone": "Europe/Oslo",
    "password": "paper-lantern-9",
    "is_adult": "on",
}


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


def make(cast: Cast, **fields: object) -> Invitation:
    return invite(cast.cohort, by=cast.organiser, now=timezone.now(), **fields)  # type: ignore[arg-type]


def address(invitation: Invitation) -> str:
    return reverse("account:join", kwargs={"token": token_of(invitation)})


def test_a_newcomer_makes_an_account_and_is_in(client: Client, cast: Cast) -> None:
    answer = client.post(address(make(cast)), NEW)
    assert answer.headers["Location"] == reverse("account:intake")
    person = User.objects.get(email="newcomer@example.org")
    assert Membership.objects.get(user=person).cohort == cast.cohort
    assert client.get("/account/").context["user"] == person


def test_a_new_coach_needs_no_intake(client: Client, cast: Cast) -> None:
    answer = client.post(address(make(cast, role="coach")), NEW)
    assert answer.headers["Location"] == reverse("home")
    assert Membership.objects.get(user__email="newcomer@example.org").role == "coach"


def test_a_personal_invitation_fixes_the_address(client: Client, cast: Cast) -> None:
    made = make(cast, email="mine@example.org")
    client.post(address(made), NEW)
    assert not User.objects.filter(email="newcomer@example.org").exists()
    assert Membership.objects.filter(user__email="mine@example.org", cohort=cast.cohort).exists()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"email": "no-address"}, "Enter a valid email address"),
        ({"name": " "}, "This field is required"),
        ({"password": "short"}, "too short"),
        ({"password": "password1234"}, "too common"),
        ({"time_zone": "Mars/Olympus"}, "Select a valid choice"),
        ({"is_adult": ""}, "Say whether you are 18 or older"),
        ({"is_adult": "no"}, "give month and year of birth"),
        ({"is_adult": "no", "birth_month": "5", "birth_year": "1990"}, "month and year of birth of somebody"),
    ],
)
def test_nothing_is_made_of_incomplete_answers(
    client: Client, cast: Cast, change: dict[str, str], said: str
) -> None:
    made = make(cast)
    answer = client.post(address(made), NEW | change)
    assert said in answer.content.decode()
    assert not User.objects.filter(email="newcomer@example.org").exists()
    made.refresh_from_db()
    assert made.uses == 0


def test_an_address_with_an_account_is_asked_to_sign_in(client: Client, cast: Cast) -> None:
    made = make(cast)
    answer = client.post(address(made), NEW | {"email": cast.outsider.email})
    assert "Sign in with it instead" in answer.content.decode()
    assert not Membership.objects.filter(user=cast.outsider).exists()
    page = client.get(address(made))
    sign_in = page.context["sign_in"]
    form = {"username": cast.outsider.email, "password": PASSWORD}
    path, _, query = sign_in.partition("?")
    landed = client.post(path + "?" + query, form | {"next": address(made)})
    assert landed.headers["Location"] == address(made)
    client.post(address(made))
    assert Membership.objects.get(user=cast.outsider).cohort == cast.cohort


def test_looking_at_the_link_joins_nobody(client: Client, cast: Cast) -> None:
    client.force_login(cast.outsider)
    assert client.get(address(make(cast))).status_code == 200
    assert not Membership.objects.filter(user=cast.outsider).exists()


def test_a_link_for_somebody_else_says_so_without_telling_whose(client: Client, cast: Cast) -> None:
    made = make(cast, email="secret.person@example.org")
    client.force_login(cast.outsider)
    for answer in (client.get(address(made)), client.post(address(made))):
        assert answer.status_code == 403
        assert "secret.person" not in answer.content.decode()
    assert not Membership.objects.filter(user=cast.outsider).exists()


@pytest.mark.parametrize("how", ["tampered", "expired", "withdrawn", "used"])
@pytest.mark.parametrize("who", ["outsider", "anonymous"])
def test_a_dead_link_gets_a_kind_sentence(client: Client, cast: Cast, how: str, who: str) -> None:
    made = make(cast)
    path, status = address(made), 410
    if how == "tampered":
        path, status = path.rstrip("/")[:-3] + "abc/", 404
    elif how == "expired":
        Invitation.objects.update(expires_at=timezone.now() - timedelta(minutes=1))
    elif how == "withdrawn":
        withdraw(made, by=cast.organiser, now=timezone.now())
    else:
        Invitation.objects.update(uses=1)
    if who != "anonymous":
        client.force_login(cast.person(who))  # type: ignore[arg-type]
    for answer in (client.get(path), client.post(path, NEW)):
        assert answer.status_code == status
        page = answer.content.decode()
        assert "This link can&#x27;t be used" in page or "This link can't be used" in page
        assert cast.camp.name not in page
    assert not User.objects.filter(email="newcomer@example.org").exists()


def test_who_is_in_already_is_led_home(client: Client, cast: Cast) -> None:
    made = make(cast)
    Invitation.objects.update(uses=1)
    client.force_login(cast.student)
    assert client.get(address(made)).headers["Location"] == reverse("home")


def test_the_session_is_a_new_one_after_joining(client: Client, cast: Cast) -> None:
    made = make(cast)
    client.get(address(made))
    before = client.session.session_key
    client.post(address(made), NEW)
    assert client.session.session_key != before
