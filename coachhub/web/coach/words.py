"""Times and counts as a coach reads them."""

from __future__ import annotations

from datetime import datetime

from coachhub.web.spans import span_words


def promise_words(due_at: datetime | None, now: datetime) -> str:
    if due_at is None:
        return "the clock stands still"
    if due_at < now:
        return f"overdue by {span_words((now - due_at).total_seconds())}"
    return f"{span_words((due_at - now).total_seconds())} left"


def since_words(at: datetime, now: datetime) -> str:
    return f"written {span_words((now - at).total_seconds())} ago"
