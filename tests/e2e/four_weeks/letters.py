"""What came by mail, as the people of the story find it."""

from __future__ import annotations

import re
from urllib.parse import urlparse

from django.core import mail
from django.core.mail import EmailMessage


def letters_to(email: str) -> list[EmailMessage]:
    return [letter for letter in mail.outbox if letter.to == [email]]


def link_for(email: str, within: str) -> str:
    """The path of the newest link with these words in it."""
    for letter in reversed(letters_to(email)):
        for link in re.findall(r"https?://\S+", str(letter.body)):
            if within in link:
                return urlparse(link).path
    raise AssertionError(f"no link with {within} came to {email}")


def subjects() -> list[str]:
    return [str(letter.subject) for letter in mail.outbox]
