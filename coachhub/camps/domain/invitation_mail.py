from __future__ import annotations

from datetime import datetime, timedelta
from smtplib import SMTPException, SMTPRecipientsRefused

from django.conf import settings
from django.core.mail import send_mail
from django.db import transaction
from django.db.models import Q
from django.template.loader import render_to_string

from coachhub.accounts.models import User
from coachhub.camps.domain.invitations import link_of
from coachhub.camps.models import Invitation, InvitationMail
from coachhub.common.domain import jobs
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.enums import JobState

LEASE = timedelta(minutes=2)
SILENT = timedelta(minutes=10)
MOST_TRIES = 5
# Between two letters to somebody who hasn't come in.
BETWEEN = timedelta(days=1)


def send(mail_id: int, *, now: datetime) -> bool:
    """Claim the letter and send it; False when there is nothing to do. A passing trouble leaves it to the sweep."""
    mail = jobs.claim(InvitationMail.objects.all(), mail_id, now=now, lease=LEASE)
    if mail is None:
        return False
    invitation = Invitation.objects.select_related("cohort__camp", "made_by").get(pk=mail.invitation_id)
    if invitation.withdrawn_at is not None:
        return not jobs.fail(
            mail, now=now, code="withdrawn", text="The invitation was taken back before it went out."
        )
    try:
        _send(invitation)
    except SMTPRecipientsRefused:
        jobs.fail(
            mail, now=now, code="refused", text="The mail server doesn't accept this address. Check it."
        )
        return False
    except (SMTPException, OSError):
        _try_later(mail, now=now)
        return False
    return jobs.finish(mail, now=now)


def _try_later(mail: InvitationMail, *, now: datetime) -> None:
    if mail.attempts < MOST_TRIES:
        jobs.put_back(mail, now=now, code="mail_server")
    else:
        text = "The mail server could not be reached. Copy the link and send it yourself, or try again later."
        jobs.fail(mail, now=now, code="mail_server", text=text)


def _send(invitation: Invitation) -> None:
    camp = invitation.cohort.camp
    words = {
        "site_name": settings.SITE_NAME,
        "invitation": invitation,
        "camp": camp,
        "link": link_of(invitation),
        "last_day": invitation.expires_at.astimezone(camp.zone).date(),
    }
    send_mail(
        subject=f"An invitation to {settings.SITE_NAME}",
        message=render_to_string("mail/invitation.txt", words),
        from_email=None,
        recipient_list=[invitation.email],
    )


@transaction.atomic
def send_again(invitation: Invitation, *, by: User, now: datetime) -> bool:
    """The letter once more: one that could not be sent at once, one that nobody followed a day later."""
    if invitation.withdrawn_at is not None or invitation.expires_at <= now or invitation.uses:
        raise RuleBroken("over", "This invitation was used, was taken back or has run out.")
    unheard = Q(job_state=JobState.DONE, finished_at__lte=now - BETWEEN)
    letters = InvitationMail.objects.filter(unheard | Q(job_state=JobState.FAILED), invitation=invitation)
    hit = letters.update(job_state=JobState.WAITING, queued_at=now, attempts=0, error_code="", error_text="")
    if not hit:
        raise RuleBroken(
            "too_soon",
            "This letter is on its way, or went out within a day. Copy the link if it didn't arrive.",
        )
    record("invitation.sent_again", invitation, by=by, now=now, scope=invitation.cohort.camp.public_id)
    _enqueue([InvitationMail.objects.get(invitation=invitation).pk])
    return True


def requeue(now: datetime) -> int:
    """For the sweep: letters whose worker died, whose message got lost, or whose mail server was away."""
    ids = jobs.requeue_lost(InvitationMail.objects.all(), now=now, most=MOST_TRIES, silent_for=SILENT)
    _enqueue(ids)
    return len(ids)


def _enqueue(ids: list[int]) -> None:
    from coachhub.camps.tasks import send_invitation

    def send_all() -> None:
        for pk in ids:
            send_invitation.delay(pk)

    transaction.on_commit(send_all, robust=True)
