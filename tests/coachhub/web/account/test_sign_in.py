from __future__ import annotations

from datetime import timedelta

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from coachhub.accounts import tasks
from coachhub.accounts.models import Attempt, User
from tests import factories
from tests.factories import PASSWORD

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

SIGN_IN = "/account/sign-in/"


@pytest.fixture
def person(db: None) -> User:
    return factories.make_user("Ada", email="ada@example.org")


def sign_in(client: Client, password: str = PASSWORD, email: str = "Ada@Example.org", **more: str):
    return client.post(SIGN_IN, {"username": email, "password": password, **more}, REMOTE_ADDR="192.0.2.7")


def test_the_address_in_any_case_and_the_password_open_the_door(client: Client, person: User) -> None:
    assert sign_in(client).headers["Location"] == reverse("home")
    assert client.get("/account/").status_code == 200


def test_the_page_names_the_site_and_not_its_host(client: Client, settings) -> None:
    page = client.get(SIGN_IN).content.decode()
    assert f"Sign in · {settings.SITE_NAME}" in page


def test_a_wrong_password_and_an_unknown_address_sound_the_same(client: Client, person: User) -> None:
    wrong = sign_in(client, "nope").context["form"].non_field_errors()
    unknown = sign_in(client, "nope", "nobody@example.org").context["form"].non_field_errors()
    assert wrong == unknown
    assert len(wrong) == 1


def test_after_six_wrong_passwords_even_the_right_one_waits(client: Client, person: User) -> None:
    for _ in range(6):
        sign_in(client, "nope")
    blocked = sign_in(client)
    assert blocked.status_code == 200
    assert "Too many wrong passwords" in blocked.content.decode()
    Attempt.objects.update(at=timezone.now() - timedelta(minutes=16))
    assert sign_in(client).status_code == 302


def test_five_wrong_ones_are_forgiven_by_the_right_one(client: Client, person: User) -> None:
    for _ in range(3):
        for _ in range(5):
            sign_in(client, "nope")
        assert sign_in(client).status_code == 302
        client.logout()


def test_behind_the_proxy_the_visitor_is_counted_and_not_the_proxy(
    client: Client, person: User, settings
) -> None:
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    form = {"username": "ada@example.org", "password": "nope"}
    for number in range(6):
        # A visitor can write anything in front; only the last part comes from our proxy.
        client.post(SIGN_IN, form, headers={"X-Forwarded-For": f"10.0.0.{number}, 203.0.113.5"})
    good = form | {"password": PASSWORD}
    assert client.post(SIGN_IN, good, headers={"X-Forwarded-For": "203.0.113.5"}).status_code == 200
    assert client.post(SIGN_IN, good, headers={"X-Forwarded-For": "203.0.113.6"}).status_code == 302


def test_it_leads_on_within_the_site_only(client: Client, person: User) -> None:
    assert sign_in(client, next="/account/intake/").headers["Location"] == "/account/intake/"
    client.logout()
    assert sign_in(client, next="https://elsewhere.example.net/").headers["Location"] == reverse("home")


def test_signing_out_needs_a_post(client: Client, person: User) -> None:
    client.force_login(person)
    assert client.get("/account/sign-out/").status_code == 405
    assert client.get("/account/").status_code == 200
    client.post("/account/sign-out/")
    assert client.get("/account/").status_code == 302


def test_a_new_password_by_letter(
    client: Client,
    person: User,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks,
    settings,
) -> None:
    settings.SITE_URL = "https://camp.example.org"
    monkeypatch.setattr(tasks.send_reset_letter, "delay", tasks.send_reset_letter)
    with django_capture_on_commit_callbacks(execute=True):
        client.post("/account/new-password/", {"email": "ADA@example.org"})
    (letter,) = mail.outbox
    assert letter.to == ["ada@example.org"]
    link = next(line for line in letter.body.splitlines() if line.startswith("https://camp.example.org/"))
    path = link.removeprefix("https://camp.example.org")
    form_page = client.get(path, follow=True)
    new = {"new_password1": "violet-harbour-3", "new_password2": "violet-harbour-3"}
    client.post(form_page.request["PATH_INFO"], new)
    assert sign_in(client, "violet-harbour-3").status_code == 302
    client.logout()
    assert "work any more" in client.get(path, follow=True).content.decode()


def test_an_unknown_address_gets_the_same_page_and_no_letter(
    client: Client, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks
) -> None:
    monkeypatch.setattr(tasks.send_reset_letter, "delay", tasks.send_reset_letter)
    with django_capture_on_commit_callbacks(execute=True) as callbacks:
        answer = client.post("/account/new-password/", {"email": "nobody@example.org"})
    assert answer.headers["Location"] == reverse("account:reset-sent")
    assert callbacks == []
    assert mail.outbox == []


def test_only_a_few_letters_an_hour(
    client: Client, person: User, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks
) -> None:
    monkeypatch.setattr(tasks.send_reset_letter, "delay", tasks.send_reset_letter)
    for _ in range(5):
        with django_capture_on_commit_callbacks(execute=True):
            client.post("/account/new-password/", {"email": "ada@example.org"})
    assert len(mail.outbox) == 3


def test_changing_the_password_needs_the_old_one(client: Client, person: User) -> None:
    client.force_login(person)
    new = {"new_password1": "violet-harbour-3", "new_password2": "violet-harbour-3"}
    assert client.post("/account/password/", new | {"old_password": "nope"}).status_code == 200
    assert client.post("/account/password/", new | {"old_password": PASSWORD}).status_code == 302
    person.refresh_from_db()
    assert person.check_password("violet-harbour-3")
    assert client.get("/account/").status_code == 200


@pytest.mark.parametrize("change", [{"name": ""}, {"name": "x" * 81}, {"time_zone": "Mars/Olympus"}])
def test_odd_answers_about_oneself_are_not_saved(
    client: Client, person: User, change: dict[str, str]
) -> None:
    client.force_login(person)
    good = {"name": "Ada Two", "time_zone": "Europe/Oslo"}
    assert client.post("/account/", good | change).status_code == 200
    person.refresh_from_db()
    assert person.name == "Ada"


def test_signing_out_empties_the_browsers_store(client: Client, person: User) -> None:
    """W3C Clear Site Data, 3.1: the types are quoted strings; cookies are not named, the session ends without."""
    sign_in(client)
    answer = client.post("/account/sign-out/")
    assert answer.headers["Clear-Site-Data"] == '"cache"'
    assert client.get("/account/").status_code == 302
    assert "Clear-Site-Data" not in client.get(SIGN_IN).headers
