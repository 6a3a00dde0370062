from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from coachhub.camps.enums import Role
from coachhub.web.context import reads_along, site


@require_safe
@login_required
def home(request: HttpRequest) -> HttpResponse:
    """Send each person to the page that says whose turn it is."""
    roles = site(request)["my_roles"]
    if Role.COACH in roles:
        return redirect("coach:queue")
    if Role.ORGANISER in roles:
        return redirect("organiser:camps")
    if Role.STUDENT in roles:
        return redirect("student:home")
    if reads_along(request):
        return redirect("guardian:home")
    return render(request, "shared/no_camp.html")


@require_safe
def alive(request: HttpRequest) -> JsonResponse:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"ok": True})


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return render(request, "shared/not_found.html", status=404)


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    return render(request, "shared/not_allowed.html", status=403)


def form_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Signing in or out in another tab makes the forms of an open page worthless."""
    return render(request, "shared/form_too_old.html", status=403)
