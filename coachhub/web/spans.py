"""A span of time in words, the same on every page."""

from __future__ import annotations

from django.utils.translation import gettext, ngettext


def span_words(seconds: float) -> str:
    """ "2 days 5 hours", "31 minutes": the two largest units that matter, rounded down."""
    minutes = int(seconds // 60)
    days, hours = minutes // 1440, minutes // 60 % 24
    if days:
        return " ".join(filter(None, (_days(days), _hours(hours))))
    if minutes >= 60:
        return " ".join(filter(None, (_hours(hours), _minutes(minutes % 60) if hours < 6 else "")))
    return _minutes(minutes) or gettext("less than a minute")


def _days(count: int) -> str:
    return ngettext("%(count)d day", "%(count)d days", count) % {"count": count} if count else ""


def _hours(count: int) -> str:
    return ngettext("%(count)d hour", "%(count)d hours", count) % {"count": count} if count else ""


def _minutes(count: int) -> str:
    return ngettext("%(count)d minute", "%(count)d minutes", count) % {"count": count} if count else ""
