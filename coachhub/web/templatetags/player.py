"""Times as people read them, for pages with a swing player: {% load player %}."""

from __future__ import annotations

from django import template

register = template.Library()


@register.filter
def as_seconds(micros: int) -> str:
    return f"{micros / 1e6:.2f} s"


@register.filter
def as_minutes(millis: int) -> str:
    seconds = millis // 1000
    return f"{seconds // 60}:{seconds % 60:02d}"


@register.filter
def micro_seconds(micros: int) -> str:
    """Plain seconds, for the time of a media fragment."""
    return f"{micros / 1e6:.3f}"
