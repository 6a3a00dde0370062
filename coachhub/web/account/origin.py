from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest


def origin_of(request: HttpRequest) -> str:
    """Where a request comes from: the peer, or behind our own proxy what the proxy saw (the last one it added)."""
    if getattr(settings, "SECURE_PROXY_SSL_HEADER", None):
        seen = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
        if seen:
            return seen
    return str(request.META.get("REMOTE_ADDR", ""))
