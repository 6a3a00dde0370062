"""Loaded into every template (see TEMPLATES in settings)."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import template
from django.templatetags.static import static
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()


@register.simple_tag
def module(path: str) -> SafeString:
    """A script tag for one of our ES modules: {% module "js/behaviours/queue.js" %}."""
    return format_html('<script type="module" src="{}"></script>', static(path))


@register.simple_tag
def stylesheet(path: str) -> SafeString:
    return format_html('<link rel="stylesheet" href="{}">', static(path))


@register.simple_tag(takes_context=True)
def media_link(context: dict[str, Any], kind: str, obj: Any) -> str:
    """The signed address of private media for the reader: {% media_link "clip.poster" clip %}."""
    from coachhub.web.media import links

    return links.media_link(kind, obj, context["request"].user)


@register.filter
def from_now(at: datetime | None) -> str:
    """Rough distance from now in words: "in 5 hours", "3 days ago"."""
    if at is None:
        return ""
    seconds = (at - timezone.now()).total_seconds()
    amount, unit = _rough(abs(seconds))
    words = f"{amount} {unit}{'' if amount == 1 else 's'}"
    return f"in {words}" if seconds >= 0 else f"{words} ago"


def _rough(seconds: float) -> tuple[int, str]:
    for unit, size in (("day", 86400), ("hour", 3600), ("minute", 60)):
        if seconds >= size * 1.5 or (unit != "day" and seconds >= size):
            return round(seconds / size), unit
    return max(0, round(seconds / 60)), "minute"


@register.filter
def lookup(mapping: dict[Any, Any], key: Any) -> Any:
    return mapping.get(key) if mapping else None


@register.simple_tag(takes_context=True)
def here(context: dict[str, Any], namespace: str) -> str:
    """aria-current for the main navigation."""
    match = getattr(context.get("request"), "resolver_match", None)
    return "page" if match is not None and match.namespace == namespace else "false"
