"""Combinations of settings that must not meet the world: `manage.py check --deploy` and `prepare` refuse them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any
from urllib.parse import urlsplit

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error

TAG = "combinations"
HERE_ONLY = {"127.0.0.1", "localhost", "::1"}


def check_combinations(app_configs: Sequence[AppConfig] | None, **kwargs: object) -> list[CheckMessage]:
    return [Error(text, hint=hint, id=f"coachhub.{code}") for code, text, hint in unsafe(settings)]


def unsafe(settings: Any) -> Iterator[tuple[str, str, str]]:
    """Code, sentence and way out for each combination that must not be."""
    site = urlsplit(settings.SITE_URL)
    sqlite = settings.DATABASES["default"]["ENGINE"].endswith("sqlite3")
    if settings.DEBUG and site.hostname not in HERE_ONLY:
        yield "E001", "Debug pages would show the code to strangers.", "Unset COACHHUB_DEBUG."
    if not settings.HTTPS_ONLY and site.hostname not in HERE_ONLY:
        hint = "Put TLS in front, then set COACHHUB_HTTPS=1 and COACHHUB_BEHIND_PROXY=1."
        yield "E002", f"Passwords and videos of {site.hostname} would travel in the clear.", hint
    if settings.HTTPS_ONLY and site.scheme != "https":
        yield "E003", "Links in mails would not be https.", "Let COACHHUB_SITE_URL start with https://."
    if not sqlite and _key_made_here(settings):
        hint = "Set the same COACHHUB_SECRET_KEY on every machine."
        yield "E004", "Each machine would make a secret key of its own, and refuse the others' links.", hint
    if sqlite and not settings.CELERY_BROKER_URL.startswith("filesystem"):
        hint = "Set DATABASE_URL to PostgreSQL, or unset BROKER_URL."
        yield "E005", "Workers on other machines can't reach a database that is a file on this one.", hint


def _key_made_here(settings: Any) -> bool:
    kept = settings.VAR_DIR / "secret.key"
    return bool(kept.exists() and kept.read_text().strip() == settings.SECRET_KEY)
