"""The doors: a second step at signing in, signing out from afar, another address."""

from __future__ import annotations

import re

import pytest
from django.contrib.sessions.models import Session
from django.core import mail
from django.test import Client
from django.urls import reverse

from coachhub.accounts.domain.doors import browser_words
from coachhub.accounts.domain.tokens import live_tokens, make_token
from coachhub.accounts.models import Door, User
from tests.coachhub.accounts.test_second_factor import code_of, with_second_factor, without_waiting
from tests.factories import NOW, PASSWORD, join, make_camp, make_cohort, make_user

pytestmark = [pytest.mark.unit, pytest.mark.django_db]
ANDROID = "Mozilla/5.0 (Linux; Android 14; Pixel 8) AppleWebKit/537.36 Chrome/126.0 Mobile Safari/537.36"


def sign_in(person: User, agent: str = ANDROID, then: str = "") -> tuple[Client, str]:
    client = Client(headers={"User-Agent": agent})
    answer = client.post(
        reverse("account:sign-in"), {"username": person.email, "password": PASSWORD, "next": then}
    )
    return client, answer.headers.get("Location", "")


def is_in(client: Client) -> bool:
    return client.get(reverse("account:me")).status_code == 200


def test_the_password_alone_opens_nothing_with_a_second_factor() -> None:
    person, _ = with_second_factor()
    client, led_to = sign_in(person, then=reverse("account:doors"))
    assert led_to == reverse("account:code")
    assert not is_in(client)
    wrong = client.post(led_to, {"code": "000000" if code_of(person) != "000000" else "111111"})
    assert wrong.status_code == 422 and not is_in(client)
    without_waiting(person)
    right = client.post(led_to, {"code": code_of(person)})
    assert right.headers["Location"] == reverse("account:doors")
    assert is_in(client)


def test_a_recovery_code_opens_too() -> None:
    person, codes = with_second_factor()
    client, led_to = sign_in(person)
    client.post(led_to, {"code": codes[3]})
    assert is_in(client)


def test_the_second_step_needs_the_first() -> None:
    assert Client().get(reverse("account:code")).headers["Location"] == reverse("account:sign-in")


def test_the_password_is_remembered_for_ten_minutes_only(monkeypatch: pytest.MonkeyPatch) -> None:
    person, codes = with_second_factor()
    client, led_to = sign_in(person)
    monkeypatch.setattr("coachhub.web.account.entering.PATIENCE_S", -1)
    answer = client.post(led_to, {"code": codes[0]})
    assert answer.headers["Location"] == reverse("account:sign-in") and not is_in(client)


def test_codes_cannot_be_guessed_on_and_on() -> None:
    person, codes = with_second_factor()
    client, led_to = sign_in(person)
    for _ in range(6):
        client.post(led_to, {"code": "not-one"})
    blocked = client.post(led_to, {"code": codes[0]})
    assert blocked.status_code == 422 and b"quarter of an hour" in blocked.content
    assert not is_in(client)


def test_setting_it_up_signs_out_who_never_showed_a_code() -> None:
    person = make_user("Ines Coach")
    elsewhere, _ = sign_in(person)
    here, _ = sign_in(person)
    page = here.get(reverse("account:second-factor")).content.decode()
    assert "data:image/svg+xml" in page
    done = here.post(reverse("account:second-factor"), {"code": code_of(person)})
    assert done.content.decode().count("<code>") == 10
    assert is_in(here) and not is_in(elsewhere)


def test_turning_it_off_takes_a_code() -> None:
    person, codes = with_second_factor()
    client, led_to = sign_in(person)
    client.post(led_to, {"code": codes[0]})
    change = reverse("account:second-factor-change")
    assert client.post(change, {"what": "off", "code": "x"}).status_code == 422
    without_waiting(person)
    assert client.post(change, {"what": "off", "code": codes[1]}).status_code == 302
    assert sign_in(person)[1] != reverse("account:code")


def test_where_it_is_required_staff_get_nowhere_without(settings: object) -> None:
    settings.SECOND_FACTOR_REQUIRED = True  # type: ignore[attr-defined]
    cohort = make_cohort(make_camp())
    coach, student = make_user("Ines Coach"), make_user("Sam Student")
    join(coach, cohort, "coach")
    join(student, cohort)
    client, _ = sign_in(coach)
    assert client.get(reverse("coach:queue")).headers["Location"] == reverse("account:second-factor")
    client.get(reverse("account:second-factor"))
    client.post(reverse("account:second-factor"), {"code": code_of(coach)})
    assert client.get(reverse("coach:queue")).status_code == 200
    other, _ = sign_in(student)
    assert other.get(reverse("student:home")).status_code == 200


def test_every_browser_is_listed_and_one_can_be_signed_out() -> None:
    person, stranger = make_user(), make_user()
    phone, _ = sign_in(person)
    desk, _ = sign_in(person, "Mozilla/5.0 (X11; Linux x86_64; rv:128.0) Gecko/20100101 Firefox/128.0")
    page = desk.get(reverse("account:doors")).content.decode()
    assert "Chrome, Android" in page and "Firefox, Linux" in page
    door = Door.objects.get(browser="Chrome, Android")
    other, _ = sign_in(stranger)
    close = reverse("account:door-close", kwargs={"public_id": door.public_id})
    assert other.post(close).status_code == 404 and is_in(phone)
    desk.post(close)
    assert is_in(desk) and not is_in(phone)


def test_signing_out_everywhere_else() -> None:
    person = make_user()
    here, there = sign_in(person)[0], sign_in(person)[0]
    # A session that was never noted, as after an upgrade.
    unnoted = Client()
    unnoted.force_login(person)
    make_token(person, name="mine", days=30, may_write=False, by=person, now=NOW)
    here.post(reverse("account:doors-close"), {"keys": "1"})
    assert is_in(here) and not is_in(there) and not is_in(unnoted)
    assert not live_tokens(person, now=NOW).exists()
    assert Door.objects.filter(person=person).count() == 1


def test_a_session_that_ended_by_itself_leaves_the_list() -> None:
    person = make_user()
    gone, here = sign_in(person)[0], sign_in(person)[0]
    Session.objects.filter(session_key=gone.session.session_key).delete()
    assert here.get(reverse("account:doors")).content.decode().count("Chrome, Android") == 1


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (ANDROID, "Chrome, Android"),
        (
            "Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) Version/17.5 Safari/604.1",
            "Safari, iPhone",
        ),
        ("Mozilla/5.0 (Windows NT 10.0; Win64) Chrome/126.0 Safari/537.36 Edg/126.0", "Edge, Windows"),
        ("curl/8.5", ""),
    ],
)
def test_browsers_are_named_in_two_words(agent: str, words: str) -> None:
    assert browser_words(agent) == words


def asked(client: Client, address: str, password: str = PASSWORD) -> int:
    return client.post(reverse("account:address"), {"address": address, "password": password}).status_code


def link_in(letter: mail.EmailMessage) -> str:
    found = re.search(r"https?://[^/]+(/\S+)", str(letter.body))
    assert found is not None
    return found[1]


def test_a_new_address_counts_when_its_letter_was_opened(
    django_capture_on_commit_callbacks: object,
) -> None:
    person = make_user()
    old, client = person.email, sign_in(person)[0]
    assert asked(client, "New@Example.org", "wrong") == 422 and not mail.outbox
    assert asked(client, "New@Example.org") == 302
    person.refresh_from_db()
    assert person.email == old and mail.outbox[0].to == ["new@example.org"]
    link = link_in(mail.outbox[0])
    # A mail program that looks into links only looks.
    assert client.get(link).status_code == 200
    person.refresh_from_db()
    assert person.email == old
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        client.post(link)
    person.refresh_from_db()
    assert person.email == "new@example.org"
    assert mail.outbox[-1].to == [old], "the old address is told"
    client.post(link)
    person.refresh_from_db()
    assert person.email == "new@example.org", "the link works once"


def test_the_letter_is_for_one_person_only() -> None:
    person, other = make_user(), make_user()
    asked(sign_in(person)[0], "new@example.org")
    stranger = sign_in(other)[0]
    stranger.post(link_in(mail.outbox[0]))
    other.refresh_from_db()
    assert other.email != "new@example.org"


def test_whether_an_address_is_taken_is_not_given_away() -> None:
    person, other = make_user(), make_user()
    client = sign_in(person)[0]
    free, taken = asked(client, "free@example.org"), asked(client, other.email)
    assert free == taken == 302
    assert mail.outbox[-1].to == [other.email] and "have an account" in str(mail.outbox[-1].body)
    assert "http" not in str(mail.outbox[-1].body).replace("https://", "http").split("account with it")[1]
