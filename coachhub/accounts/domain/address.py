"""Another e-mail address: it counts once a link sent to it was followed, and the old address is told."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.core import signing
from django.core.mail import send_mail
from django.db import IntegrityError, transaction
from django.template.loader import render_to_string
from django.urls import reverse

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record

SALT = "accounts.address"
HOLDS_S = 2 * 3600
OVER = "This link is over or was changed on the way. Ask for a new one on the page about yourself."


def ask_for_address(person: User, address: str) -> None:
    """Mail the link. Whether the new address has an account already is said to nobody but its owner."""
    new = address.strip().lower()
    if new == person.email:
        raise RuleBroken("same_address", "That is your address already.")
    if User.objects.filter(email=new).exists():
        _letter(new, "mail/address_taken.txt", {})
        return
    token = signing.dumps([person.pk, person.email, new], salt=SALT)
    link = settings.SITE_URL + reverse("account:address-confirm", kwargs={"token": token})
    _letter(new, "mail/address.txt", {"link": link, "hours": HOLDS_S // 3600})


def address_in(token: str, person: User) -> str:
    """The new address that the link is for; it must be this person's, and the old address still the same."""
    try:
        pk, old, new = signing.loads(token, salt=SALT, max_age=HOLDS_S)
    except (signing.BadSignature, ValueError) as error:
        raise RuleBroken("bad_link", OVER) from error
    if pk != person.pk or old != person.email:
        raise RuleBroken("bad_link", OVER)
    return str(new)


def change_address(person: User, token: str, *, now: datetime) -> User:
    new, old = address_in(token, person), person.email
    try:
        with transaction.atomic():
            User.objects.filter(pk=person.pk, email=old).update(email=new)
            record("person.address_changed", person, by=person, now=now)
    except IntegrityError as error:
        raise RuleBroken("address_taken", "There is an account with this address by now.") from error
    person.refresh_from_db(fields=["email"])
    transaction.on_commit(lambda: _letter(old, "mail/address_changed.txt", {}))
    return person


def _letter(address: str, template: str, words: dict[str, object]) -> None:
    send_mail(
        subject=f"Your address at {settings.SITE_NAME}",
        message=render_to_string(template, {"site_name": settings.SITE_NAME} | words),
        from_email=None,
        recipient_list=[address],
    )
