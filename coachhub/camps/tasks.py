from __future__ import annotations

from django.utils import timezone

from coachhub.celery import app


@app.task(name="camps.send_invitation", time_limit=60, soft_time_limit=50)
def send_invitation(mail_id: int) -> None:
    from coachhub.camps.domain import invitation_mail

    invitation_mail.send(mail_id, now=timezone.now())


@app.task(name="camps.prepare_hello")
def prepare_hello(recording_id: int) -> None:
    from coachhub.camps.domain.hellos import prepare

    prepare(recording_id, clock=timezone.now)
