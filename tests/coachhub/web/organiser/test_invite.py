from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from coachhub.accounts.domain.limits import PER_PERSON, spend
from coachhub.accounts.enums import AttemptKind
from coachhub.camps.domain.people_list import MOST_LINES
from coachhub.camps.models import Camp, Invitation, InvitationMail
from tests.cast import Cast, make_cast

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def cast(client: Client, db: None) -> Cast:
    cast = make_cast()
    client.force_login(cast.organiser)
    return cast


def at(name: str, cast: Cast) -> str:
    return reverse(f"organiser:{name}", args=[cast.cohort.public_id])


def invite(client: Client, cast: Cast, **fields: object) -> Invitation:
    data = {"role": "student", "email": "", "name": "", "most_uses": 1} | fields
    client.post(at("invite", cast), data)
    return Invitation.objects.latest("pk")


def test_the_link_on_the_page_lets_somebody_in(client: Client, cast: Cast) -> None:
    invite(client, cast, most_uses=5)
    page = client.get(at("cohort", cast)).content.decode()
    (link,) = re.findall(r'value="(http[^"]+/account/join/[^"]+)"', page)
    visitor = Client()
    visitor.force_login(cast.outsider)
    assert visitor.post("/account/" + link.partition("/account/")[2]).status_code == 302
    assert cast.cohort.memberships.filter(user=cast.outsider).exists()
    page = client.get(at("cohort", cast)).content.decode()
    assert "used 1 of 5 times" in page
    assert "came: Uwe Outsider" in page


def test_with_an_address_it_goes_out_by_mail(client: Client, cast: Cast) -> None:
    made = invite(client, cast, email="Ada@Example.org", most_uses=9)
    assert (made.email, made.most_uses) == ("ada@example.org", 1)
    assert InvitationMail.objects.get().invitation == made


def test_a_link_taken_back_is_not_shown_any_more(client: Client, cast: Cast) -> None:
    made = invite(client, cast)
    client.post(reverse("organiser:invitation-withdraw", args=[made.public_id]))
    page = client.get(at("cohort", cast)).content.decode()
    assert "/account/join/" not in page
    assert "taken back" in page


@pytest.mark.parametrize(
    "change", [{"email": "no-address"}, {"most_uses": 0}, {"most_uses": 201}, {"role": "organiser"}]
)
def test_odd_invitations_are_not_made(client: Client, cast: Cast, change: dict[str, object]) -> None:
    data = {"role": "student", "email": "", "name": "", "most_uses": 1} | change
    assert client.post(at("invite", cast), data).status_code == 200
    assert not Invitation.objects.exists()


def test_a_closed_camp_invites_nobody(client: Client, cast: Cast) -> None:
    Camp.objects.update(state="closed")
    assert client.post(at("invite", cast), {"role": "student", "most_uses": 1}).status_code == 403
    assert "nobody can be invited" in client.get(at("cohort", cast)).content.decode()


def preview(client: Client, cast: Cast, raw: bytes):
    file = SimpleUploadedFile("../people.csv", raw, content_type="application/x-evil")
    return client.post(at("people-list", cast), {"people": file})


def test_a_list_is_shown_first_and_then_sent(client: Client, cast: Cast) -> None:
    raw = "\ufeffE-mail;Name\r\nada@example.org;Ada\r\nbroken\r\nbo@example.org;<b>Bo</b>\r\n".encode()
    raw += cast.student.email.encode()
    page = preview(client, cast, raw)
    text = page.content.decode()
    assert not Invitation.objects.exists()
    assert "No e-mail address in this line" in text
    assert "Need no invitation" in text
    assert "&lt;b&gt;Bo&lt;/b&gt;" in text
    assert "Send 2 invitations" in text
    sealed = page.context["sealed"]
    for _ in range(2):
        client.post(at("people-send", cast), {"sealed": sealed})
    assert sorted(Invitation.objects.values_list("email", flat=True)) == ["ada@example.org", "bo@example.org"]
    assert InvitationMail.objects.count() == 2


def test_a_preview_of_another_cohort_or_a_changed_one_sends_nothing(client: Client, cast: Cast) -> None:
    sealed = preview(client, cast, b"ada@example.org").context["sealed"]
    elsewhere = reverse("organiser:people-send", args=[cast.other_cohort.public_id])
    for address, seal in (
        (elsewhere, sealed),
        (at("people-send", cast), sealed + "x"),
        (at("people-send", cast), ""),
    ):
        answer = client.post(address, {"sealed": seal}, follow=True)
        assert "Load the list again" in answer.content.decode()
    assert not Invitation.objects.exists()


@pytest.mark.parametrize("raw", [b" ", b"\xff\xfe\x00\xd8", b"x" * 300_000, b"a@example.org\n" * 501])
def test_lists_that_cannot_be_used_come_back_with_a_sentence(client: Client, cast: Cast, raw: bytes) -> None:
    answer = preview(client, cast, raw)
    assert answer.status_code == 200
    assert answer.context["form"].errors
    assert "sealed" not in answer.context


def test_too_many_invitations_an_hour_are_refused_and_nothing_typed_is_lost(
    client: Client, cast: Cast
) -> None:
    most = PER_PERSON[AttemptKind.INVITE].most
    assert most >= MOST_LINES, "the longest list that is read must be one that can be sent"
    sealed = preview(client, cast, b"ada@example.org\nbo@example.org").context["sealed"]
    spend(AttemptKind.INVITE, person=cast.organiser, now=timezone.now(), times=most - 1)
    answer = client.post(at("people-send", cast), {"sealed": sealed})
    text = answer.content.decode()
    assert "within an hour" in text and "Send 2 invitations" in text and answer.context["sealed"] == sealed
    assert not Invitation.objects.exists()
    spend(AttemptKind.INVITE, person=cast.organiser, now=timezone.now())
    data = {"role": "student", "email": "ada@example.org", "name": "Ada", "most_uses": 1}
    text = client.post(at("invite", cast), data).content.decode()
    assert "within an hour" in text and 'value="ada@example.org"' in text
    assert not Invitation.objects.exists()


def test_lines_can_be_pasted(client: Client, cast: Cast) -> None:
    answer = client.post(at("people-list", cast), {"pasted": "Ada, ada@example.org"})
    assert [person.name for person in answer.context["found"].people] == ["Ada"]
    assert client.post(at("people-list", cast), {"pasted": " "}).context["form"].errors


def test_the_plan_names_who_is_not_in_yet_and_writes_to_them_again(client: Client, cast: Cast) -> None:
    made = invite(client, cast, email="ada@example.org", name="Ada Later")
    InvitationMail.objects.update(job_state="done", finished_at=timezone.now() - timedelta(days=2))
    plan = reverse("organiser:plan", args=[cast.camp.public_id])
    page = client.get(plan).content.decode()
    assert "Ada Later" in page and "Write again" in page
    address = reverse("organiser:invitation-again", args=[made.public_id])
    answer = client.post(address, {"back": "plan"}, follow=True)
    assert answer.redirect_chain == [(plan, 302)] and "once more" in answer.content.decode()
    assert InvitationMail.objects.get().job_state == "waiting"
    assert "within a day" in client.post(address, {"back": "plan"}, follow=True).content.decode()
