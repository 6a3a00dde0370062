from __future__ import annotations

from datetime import datetime, timedelta
from smtplib import SMTPRecipientsRefused, SMTPServerDisconnected

import pytest
from django.core import mail

from coachhub.camps import tasks
from coachhub.camps.domain import invitation_mail
from coachhub.camps.domain.invitations import find, invite, withdraw
from coachhub.camps.models import Invitation, InvitationMail
from coachhub.common.domain.errors import RuleBroken
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def letter(db: None) -> InvitationMail:
    cohort = factories.make_cohort(factories.make_camp("Heron Lake"))
    organiser = factories.make_user("Mara Organiser")
    made = invite(cohort, email="ada@example.org", name="Ada", by=organiser, now=NOW)
    return made.mail


def broken(error: Exception):
    def send_mail(**_: object) -> None:
        raise error

    return send_mail


def test_the_letter_carries_a_link_that_holds(letter: InvitationMail, settings) -> None:
    settings.SITE_URL = "https://camp.example.org"
    assert invitation_mail.send(letter.pk, now=NOW)
    (sent,) = mail.outbox
    assert sent.to == ["ada@example.org"]
    assert "Heron Lake" not in sent.subject
    assert "Heron Lake" in sent.body
    link = next(line for line in sent.body.splitlines() if line.startswith("https://camp.example.org/"))
    assert find(link.rstrip("/").rpartition("/")[2], now=NOW) == letter.invitation


def test_the_task_run_twice_sends_one_letter(letter: InvitationMail) -> None:
    for _ in range(2):
        tasks.send_invitation(letter.pk)
    assert len(mail.outbox) == 1
    letter.refresh_from_db()
    assert letter.job_state == "done"


def test_a_mail_server_that_is_away_is_tried_again_and_then_given_up(
    letter: InvitationMail, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(invitation_mail, "send_mail", broken(SMTPServerDisconnected("away")))
    states = []
    for _ in range(invitation_mail.MOST_TRIES):
        assert not invitation_mail.send(letter.pk, now=NOW)
        letter.refresh_from_db()
        states.append(letter.job_state)
    assert states == ["waiting"] * (invitation_mail.MOST_TRIES - 1) + ["failed"]
    assert "Copy the link" in letter.error_text


def test_a_refused_address_fails_at_once_with_a_reason(
    letter: InvitationMail, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(invitation_mail, "send_mail", broken(SMTPRecipientsRefused({})))
    invitation_mail.send(letter.pk, now=NOW)
    letter.refresh_from_db()
    assert (letter.job_state, letter.error_code) == ("failed", "refused")
    monkeypatch.undo()
    invitation_mail.send_again(letter.invitation, by=letter.invitation.made_by, now=NOW)
    assert invitation_mail.send(letter.pk, now=NOW)
    assert len(mail.outbox) == 1
    with pytest.raises(RuleBroken):
        invitation_mail.send_again(letter.invitation, by=letter.invitation.made_by, now=NOW)


def test_who_has_not_come_in_is_written_to_again_after_a_day(letter: InvitationMail) -> None:
    by, invitation = letter.invitation.made_by, letter.invitation

    def again(now: datetime) -> str:
        invitation.refresh_from_db()
        try:
            invitation_mail.send_again(invitation, by=by, now=now)
        except RuleBroken as broken:
            return broken.code
        return str(invitation_mail.send(letter.pk, now=now))

    assert invitation_mail.send(letter.pk, now=NOW)
    day = timedelta(days=1)
    assert again(NOW + day - timedelta(seconds=1)) == "too_soon"
    assert again(NOW + day) == "True"
    assert again(NOW + day + timedelta(hours=1)) == "too_soon"
    assert [sent.to for sent in mail.outbox] == [[invitation.email]] * 2
    Invitation.objects.update(uses=1)
    assert again(NOW + 3 * day) == "over"
    Invitation.objects.update(uses=0, withdrawn_at=NOW)
    assert again(NOW + 3 * day) == "over"


def test_the_sweep_finds_a_letter_whose_worker_died(
    letter: InvitationMail, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks
) -> None:
    queued: list[int] = []
    monkeypatch.setattr(tasks.send_invitation, "delay", queued.append)
    InvitationMail.objects.update(job_state="running", attempts=1, lease_until=NOW)
    with django_capture_on_commit_callbacks(execute=True):
        assert invitation_mail.requeue(NOW + timedelta(minutes=5)) == 1
    assert queued == [letter.pk]
    assert invitation_mail.send(letter.pk, now=NOW + timedelta(minutes=5))


def test_an_invitation_taken_back_before_it_went_out_is_not_sent(letter: InvitationMail) -> None:
    withdraw(letter.invitation, by=letter.invitation.made_by, now=NOW)
    assert not invitation_mail.send(letter.pk, now=NOW)
    assert mail.outbox == []
