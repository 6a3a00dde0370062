"""The letter that asks somebody to be a guardian here. It names the child only as the child is called on the site."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta

from django.conf import settings
from django.core.mail import send_mail
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _

from coachhub.accounts.domain.guardians import LASTS, token_of
from coachhub.accounts.enums import GuardianState
from coachhub.accounts.models import Guardianship

log = logging.getLogger(__name__)
LATE = timedelta(minutes=2)


def send_letter(guardianship_id: int, *, now: datetime) -> bool:
    """Once per letter. False: it left before, or is not wanted any more."""
    unsent = Guardianship.objects.filter(
        pk=guardianship_id, state=GuardianState.INVITED, mailed_at=None, expires_at__gt=now
    )
    if not unsent.update(mailed_at=now):
        return False
    row = Guardianship.objects.select_related("child").get(pk=guardianship_id)
    try:
        _send(row)
    except OSError:
        Guardianship.objects.filter(pk=guardianship_id).update(mailed_at=None)
        log.warning("no letter for guardianship %s: the mail server does not answer", row.public_id)
        return False
    return True


def _send(row: Guardianship) -> None:
    path = reverse("guardian:accept", kwargs={"token": token_of(row)})
    words = {
        "site_name": settings.SITE_NAME,
        "child": row.child.name,
        "link": settings.SITE_URL + path,
        "days": LASTS.days,
    }
    send_mail(
        subject=_("%(site)s: you were named as a guardian") % {"site": settings.SITE_NAME},
        message=render_to_string("mail/guardian.txt", words),
        from_email=None,
        recipient_list=[row.email],
    )


def unsent(now: datetime) -> list[int]:
    """Letters that got lost on the way."""
    rows = Guardianship.objects.filter(
        state=GuardianState.INVITED, mailed_at=None, expires_at__gt=now, created_at__lt=now - LATE
    )
    return list(rows.values_list("pk", flat=True)[:200])


def send_unsent(now: datetime) -> int:
    """For the sweep."""
    return sum(send_letter(pk, now=now) for pk in unsent(now))
