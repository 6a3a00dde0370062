"""Where one is signed in, signing out from afar, and another e-mail address."""

from __future__ import annotations

from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from coachhub.accounts.domain import limits
from coachhub.accounts.domain.address import address_in, ask_for_address, change_address
from coachhub.accounts.domain.doors import close_all, close_door, open_doors
from coachhub.accounts.domain.tokens import revoke_all
from coachhub.accounts.enums import AttemptKind
from coachhub.accounts.models import Door
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.account.entering import stay_in
from coachhub.web.account.origin import origin_of
from coachhub.web.who import person_of


@login_required
@require_safe
def doors(request: HttpRequest) -> HttpResponse:
    found = open_doors(person_of(request))
    here = request.session.session_key
    return render(
        request, "account/doors.html", {"doors": [(door, door.session_key == here) for door in found]}
    )


@login_required
@require_POST
def close(request: HttpRequest, public_id: UUID) -> HttpResponse:
    person = person_of(request)
    door = get_object_or_404(Door.objects.visible_to(person), public_id=public_id)
    close_door(door, by=person, now=timezone.now())
    messages.success(request, _("That browser is signed out."))
    return redirect("account:doors")


@login_required
@require_POST
def close_others(request: HttpRequest) -> HttpResponse:
    """Everywhere but here; programs' keys too, if that is wanted."""
    person, now = person_of(request), timezone.now()
    close_all(person, by=person, now=now)
    if request.POST.get("keys"):
        revoke_all(person, by=person, now=now)
    stay_in(request, person)
    messages.success(request, _("Every other browser is signed out."))
    return redirect("account:doors")


class AddressForm(forms.Form):
    address = forms.EmailField(
        label=gettext_lazy("New e-mail address"),
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )
    password = forms.CharField(
        label=gettext_lazy("Your password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


@sensitive_post_parameters("password")
@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def address(request: HttpRequest) -> HttpResponse:
    form = AddressForm(request.POST or None)
    if request.method == "POST" and form.is_valid() and _asked(request, form):
        messages.success(
            request,
            _("A letter with a link is on its way to the new address. Until you open it, nothing changes."),
        )
        return redirect("account:me")
    status = 422 if request.method == "POST" else 200
    return render(request, "account/address.html", {"form": form}, status=status)


def _asked(request: HttpRequest, form: AddressForm) -> bool:
    person, now = person_of(request), timezone.now()
    who = {"address": person.email, "origin": origin_of(request)}
    if limits.blocked(AttemptKind.ADDRESS, now=now, **who):
        form.add_error(None, _("Too many tries. Wait an hour."))
        return False
    limits.count(AttemptKind.ADDRESS, now=now, **who)
    if not person.check_password(form.cleaned_data["password"]):
        form.add_error("password", _("This is not your password."))
        return False
    try:
        ask_for_address(person, form.cleaned_data["address"])
    except RuleBroken as broken:
        form.add_error("address", _(broken.sentence))
        return False
    return True


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def confirm_address(request: HttpRequest, token: str) -> HttpResponse:
    """Opening the link shows a button: programs that look into mails follow links too."""
    person = person_of(request)
    try:
        new = address_in(token, person)
        if request.method == "POST":
            change_address(person, token, now=timezone.now())
            messages.success(request, _("From now on you sign in with %(address)s.") % {"address": new})
            return redirect("account:me")
    except RuleBroken as broken:
        messages.error(request, _(broken.sentence))
        return redirect("account:me")
    return render(request, "account/address_confirm.html", {"new": new})
