"""Becoming a guardian by the link of the letter: signed in, or with a new account."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from coachhub.accounts.domain.guardians import accept, find
from coachhub.accounts.domain.people import register
from coachhub.accounts.forms import NewAccountForm
from coachhub.accounts.models import Guardianship, User
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.account.entering import let_in
from coachhub.web.account.views import sign_in_address
from coachhub.web.guardian.access import places_of
from coachhub.web.who import person_of

STATUS = {"unknown": 404, "yourself": 403, "minor": 403, "is_staff": 403, "twice": 403, "declared": 400}
OVER = 410


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def accept_invitation(request: HttpRequest, token: str) -> HttpResponse:
    try:
        row = find(token, now=timezone.now())
        if request.user.is_authenticated:
            return _signed_in(request, token, row)
        return _newcomer(request, token, row)
    except RuleBroken as broken:
        return _refused(request, broken)


def _signed_in(request: HttpRequest, token: str, row: Guardianship) -> HttpResponse:
    if request.method == "POST" and request.POST.get("declares"):
        accept(token, person_of(request), now=timezone.now())
        return _welcome(request, row)
    if request.method == "POST":
        messages.error(request, _("Tick that you are the parent or guardian."))
    return render(request, "guardian/accept.html", _context(row))


def _newcomer(request: HttpRequest, token: str, row: Guardianship) -> HttpResponse:
    zone = next((place.camp.time_zone for place in places_of(row.child)), row.child.time_zone)
    form = NewAccountForm(request.POST or None, fixed_email=row.email, initial={"time_zone": zone})
    if request.method == "POST" and not request.POST.get("declares"):
        form.add_error(None, _("Tick that you are the parent or guardian."))
    if request.method == "POST" and form.is_valid():
        try:
            person = _make(token, form)
        except RuleBroken as broken:
            form.add_error("email" if broken.code == "address_taken" else None, broken.sentence)
        else:
            let_in(request, person)
            return _welcome(request, row)
    context = _context(row) | {"form": form, "sign_in": sign_in_address(request.path)}
    return render(request, "guardian/accept.html", context)


@transaction.atomic
def _make(token: str, form: NewAccountForm) -> User:
    data, now = form.cleaned_data, timezone.now()
    person = register(
        data["email"], name=data["name"], password=data["password"], time_zone=data["time_zone"], now=now
    )
    accept(token, person, now=now)
    return person


def _context(row: Guardianship) -> dict[str, object]:
    return {"row": row, "child": row.child, "places": places_of(row.child)}


def _welcome(request: HttpRequest, row: Guardianship) -> HttpResponse:
    messages.success(request, _("You are a guardian here now. Decide below what you agree to."))
    return redirect("guardian:child", row.child.public_id)


def _refused(request: HttpRequest, broken: RuleBroken) -> HttpResponse:
    status = STATUS.get(broken.code, OVER)
    return render(request, "account/join_refused.html", {"sentence": broken.sentence}, status=status)
