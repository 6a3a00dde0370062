from __future__ import annotations

import zoneinfo
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone, translation
from django.utils.cache import patch_vary_headers

from coachhub.accounts.domain.doors import NOTED_EVERY, SEEN, note_seen
from coachhub.accounts.enums import Units
from coachhub.camps.enums import Role
from coachhub.common.lengths import read_in_yards
from coachhub.web.context import site

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


class UserUnits:
    """Lengths are written in metres and told in yards to who wants them so."""

    def __init__(self, get_response: View) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with read_in_yards(getattr(request.user, "units", "") == Units.YARDS):
            return self.get_response(request)


class UserLanguage:
    """A person's own choice, else this browser's; it ends with the request, so that no other one inherits it."""

    def __init__(self, get_response: View) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        wanted = getattr(request.user, "language", "")
        if wanted not in dict(settings.LANGUAGES):
            wanted = translation.get_language_from_request(request)
        with translation.override(wanted):
            request.LANGUAGE_CODE = wanted
            response = self.get_response(request)
        response.headers.setdefault("Content-Language", wanted)
        patch_vary_headers(response, ("Accept-Language",))
        return response


class Doors:
    """Notes now and then that a browser is still in use; asks staff for a second factor where the site wants one."""

    FREE = ("/account/", "/static/", "/healthz")

    def __init__(self, get_response: View) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.user.is_authenticated and request.session.session_key:
            self._note(request)
            if self._owes_second_factor(request):
                return redirect("account:second-factor")
        return self.get_response(request)

    def _note(self, request: HttpRequest) -> None:
        """The time stands in the session since the sign-in, so that most requests ask the database nothing."""
        now, last = timezone.now(), request.session.get(SEEN)
        if last is not None and now.timestamp() - last >= NOTED_EVERY.total_seconds():
            request.session[SEEN] = int(now.timestamp())
            note_seen(str(request.session.session_key), now=now)

    def _owes_second_factor(self, request: HttpRequest) -> bool:
        if not settings.SECOND_FACTOR_REQUIRED or request.path.startswith(self.FREE):
            return False
        if request.session.get("second_factor"):
            return False
        return bool(site(request)["my_roles"] & {Role.COACH, Role.ORGANISER})
