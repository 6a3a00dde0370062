"""Times and counts as a coach reads them."""

from __future__ import annotations

from datetime import datetime


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


def promise_words(due_at: datetime | None, now: datetime) -> str:
    if due_at is None:
        return "the clock stands still"
    if due_at < now:
        return f"overdue by {span_words((now - due_at).total_seconds())}"
    return f"{span_words((due_at - now).total_seconds())} left"


def since_words(at: datetime, now: datetime) -> str:
    return f"written {span_words((now - at).total_seconds())} ago"
