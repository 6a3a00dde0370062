from __future__ import annotations

import zoneinfo
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'self'",
        "img-src 'self' data: blob:",
        "media-src 'self' blob:",
        "worker-src 'self' blob:",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
# A coach records the voice and a student films on the site itself; nothing else is needed.
PERMISSIONS = "camera=(self), microphone=(self), geolocation=(), payment=(), usb=()"

View = Callable[[HttpRequest], HttpResponse]


class SecurityHeaders:
    def __init__(self, get_response: View) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        if "Cache-Control" not in response.headers and getattr(request, "user", None) is not None:
            # Pages about people must not lie in a shared phone's cache after signing out.
            response.headers["Cache-Control"] = "private, no-store"
        return response


class UserTimeZone:
    """Times are stored in UTC and shown in the reader's zone; a camp's own dates use the camp's zone."""

    def __init__(self, get_response: View) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        name = getattr(request.user, "time_zone", "") or "UTC"
        try:
            zone = zoneinfo.ZoneInfo(name)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError):
            zone = zoneinfo.ZoneInfo("UTC")
        with timezone.override(zone):
            return self.get_response(request)
