"""The calendar feed, and the page on which a person makes, renews or ends its address."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from coachhub.progress.domain import calendar
from coachhub.web.who import person_of


@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """Whoever has the address reads it: programs don't sign in."""
    person = calendar.person_of_token(token)
    if person is None:
        raise Http404("no such calendar")
    body = calendar.calendar_of(person, now=timezone.now()).to_ical()
    response = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    response.headers["Content-Disposition"] = 'inline; filename="camp.ics"'
    response.headers["Cache-Control"] = "private, max-age=900"
    return response


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def own(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    if request.method == "POST":
        if request.POST.get("do") == "end":
            calendar.end_key(person)
            messages.success(request, "The address has ended. Calendars that used it get nothing any more.")
        else:
            calendar.renew_key(person, now=timezone.now())
            messages.success(request, "This is your address. An older one has ended.")
        return redirect("account:calendar")
    key = calendar.key_of(person)
    where = reverse("calendar:feed", args=[calendar.token_of(key)]) if key else ""
    address = settings.SITE_URL + where if where else ""
    return render(request, "account/calendar.html", {"key": key, "address": address})


urlpatterns = [path("<str:token>.ics", feed, name="feed")]
