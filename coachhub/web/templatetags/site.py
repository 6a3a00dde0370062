"""Loaded into every template (see TEMPLATES in settings)."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import template
from django.template.defaultfilters import date as framework_date
from django.templatetags.static import static
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from coachhub.common.days import local_format
from coachhub.common.wording import language
from coachhub.web.coach.words import promise_words
from coachhub.web.spans import span_words
from coachhub.web.wording import scripts

register = template.Library()


@register.simple_tag
def module(path: str) -> SafeString:
    """A script tag for one of our ES modules: {% module "js/behaviours/queue.js" %}."""
    return format_html('<script type="module" src="{}"></script>', static(path))


@register.simple_tag
def words_for_scripts() -> SafeString:
    """The modules' sentences in the page's language, before any of them runs; in English there are none to bring."""
    address = scripts.address(language())
    return format_html('<script src="{}"></script>', address) if address else SafeString("")


@register.simple_tag
def stylesheet(path: str) -> SafeString:
    return format_html('<link rel="stylesheet" href="{}">', static(path))


@register.simple_tag(takes_context=True)
def media_link(context: dict[str, Any], kind: str, obj: Any) -> str:
    """The signed address of private media for the reader: {% media_link "clip.poster" clip %}."""
    from coachhub.web.media import links

    return links.media_link(kind, obj, context["request"].user)


@register.filter(name="date", expects_localtime=True)
def date_in_words(value: Any, asked: str | None = None) -> str:
    """The framework's filter, with day and month as the reader's language writes them."""
    return str(framework_date(value, asked and local_format(asked)))


@register.filter
def from_now(at: datetime | None) -> str:
    """Distance from now in words: "in 5 hours 12 minutes", "3 days ago"."""
    if at is None:
        return ""
    seconds = (at - timezone.now()).total_seconds()
    words = span_words(abs(seconds))
    said = gettext("in %(span)s") if seconds >= 0 else gettext("%(span)s ago")
    return said % {"span": words}


@register.filter
def promise(due_at: datetime | None, now: datetime) -> str:
    """What is left of a promise, as the coach's list says it."""
    return promise_words(due_at, now)


@register.filter
def lookup(mapping: dict[Any, Any], key: Any) -> Any:
    return mapping.get(key) if mapping else None


@register.simple_tag(takes_context=True)
def here(context: dict[str, Any], namespace: str) -> str:
    """aria-current for the main navigation."""
    match = getattr(context.get("request"), "resolver_match", None)
    return "page" if match is not None and match.namespace == namespace else "false"


@register.simple_tag(takes_context=True)
def unread_notices(context: dict[str, Any]) -> int:
    """How many notices the signed-in person has not seen."""
    from coachhub.accounts.domain.notices import unread

    user = context.get("user")
    return unread(user).count() if user is not None and user.is_authenticated else 0
