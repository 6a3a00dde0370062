from __future__ import annotations

from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.core.mail import send_mail
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from coachhub.accounts.models import User


def send_reset_letter(person: User) -> None:
    """Mail the link with which a person sets a new password. Not for accounts that are switched off."""
    if not person.is_active:
        return
    path = reverse(
        "account:reset-confirm",
        kwargs={
            "uidb64": urlsafe_base64_encode(force_bytes(person.pk)),
            "token": default_token_generator.make_token(person),
        },
    )
    hours = settings.PASSWORD_RESET_TIMEOUT // 3600
    words = {"site_name": settings.SITE_NAME, "link": settings.SITE_URL + path, "hours": hours}
    send_mail(
        subject=f"A new password for {settings.SITE_NAME}",
        message=render_to_string("mail/reset.txt", words),
        from_email=None,
        recipient_list=[person.email],
    )
