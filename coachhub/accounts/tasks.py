from __future__ import annotations

from smtplib import SMTPException

from coachhub.celery import app


@app.task(
    name="accounts.send_reset_letter",
    autoretry_for=(SMTPException, OSError),
    retry_backoff=10,
    retry_backoff_max=600,
    retry_jitter=True,
    max_retries=5,
    time_limit=60,
    soft_time_limit=50,
)
def send_reset_letter(person_id: int) -> None:
    """A second run sends a second, equally valid letter, which hurts nobody."""
    from coachhub.accounts.domain import letters
    from coachhub.accounts.models import User

    person = User.objects.filter(pk=person_id).first()
    if person is not None:
        letters.send_reset_letter(person)


@app.task(name="accounts.send_guardian_letter", time_limit=60, soft_time_limit=50)
def send_guardian_letter(guardianship_id: int) -> None:
    from django.utils import timezone

    from coachhub.accounts.domain import guardian_letters

    guardian_letters.send_letter(guardianship_id, now=timezone.now())


@app.task(name="accounts.mail_notice", time_limit=60, soft_time_limit=50)
def mail_notice(notice_id: int) -> None:
    from django.utils import timezone

    from coachhub.accounts.domain.notices import mail_at_once

    mail_at_once(notice_id, now=timezone.now())
