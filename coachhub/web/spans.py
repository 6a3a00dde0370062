"""A span of time in words, the same on every page."""

from __future__ import annotations


def span_words(seconds: float) -> str:
    """ "2 days 5 hours", "31 minutes": the two largest units that matter, rounded down."""
    minutes = int(seconds // 60)
    days, hours = minutes // 1440, minutes // 60 % 24
    if days:
        return " ".join(filter(None, (_many(days, "day"), _many(hours, "hour"))))
    if minutes >= 60:
        return " ".join(
            filter(None, (_many(hours, "hour"), _many(minutes % 60, "minute") if hours < 6 else ""))
        )
    return _many(minutes, "minute") or "less than a minute"


def _many(count: int, unit: str) -> str:
    if not count:
        return ""
    return f"{count} {unit}" if count == 1 else f"{count} {unit}s"
