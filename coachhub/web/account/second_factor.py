"""Setting up, using and turning off a second factor."""

from __future__ import annotations

from base64 import b32encode

import segno
from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from coachhub.accounts.domain import limits, second_factor
from coachhub.accounts.domain.doors import close_all
from coachhub.accounts.enums import AttemptKind
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.account.entering import awaited, let_in, stay_in
from coachhub.web.account.origin import origin_of
from coachhub.web.who import person_of


class CodeForm(forms.Form):
    code = forms.CharField(
        label=gettext_lazy("The code"),
        max_length=20,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "inputmode": "text", "autocapitalize": "none"}
        ),
    )


@sensitive_post_parameters("code")
@require_http_methods(["GET", "HEAD", "POST"])
def code(request: HttpRequest) -> HttpResponse:
    """The second step of signing in."""
    found = awaited(request)
    if found is None:
        return redirect("account:sign-in")
    person, then = found
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid() and _fits(request, person, form):
        let_in(request, person, second_factor=True)
        return redirect(then)
    return render(request, "account/code.html", {"form": form}, status=422 if form.errors else 200)


def _fits(request: HttpRequest, person: User, form: CodeForm) -> bool:
    who = {"address": person.email, "origin": origin_of(request)}
    now = timezone.now()
    if limits.blocked(AttemptKind.CODE, now=now, **who):
        form.add_error("code", _("Too many wrong codes. Wait a quarter of an hour."))
        return False
    if second_factor.proves(person, form.cleaned_data["code"]):
        limits.forget(AttemptKind.CODE, **who)
        return True
    limits.count(AttemptKind.CODE, now=now, **who)
    form.add_error("code", _(second_factor.WRONG))
    return False


@sensitive_post_parameters("code")
@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def set_up(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    if second_factor.has_second_factor(person):
        context = {"left": second_factor.recovery_left(person), "form": CodeForm()}
        return render(request, "account/second_factor.html", context)
    device, form = second_factor.begin(person), CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            codes = second_factor.confirm(person, form.cleaned_data["code"], now=timezone.now())
        except RuleBroken as broken:
            form.add_error("code", _(broken.sentence))
        else:
            # Whoever else is signed in never showed a code.
            close_all(person, by=person, now=timezone.now())
            request.session["second_factor"] = True
            stay_in(request, person)
            return render(request, "account/recovery_codes.html", {"codes": codes})
    context = {
        "form": form,
        "picture": segno.make(device.config_url, error="m").svg_data_uri(scale=5, border=4, light="#fff"),
        "secret": _in_fours(device.bin_key),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "account/second_factor_new.html", context, status=status)


def _in_fours(key: bytes) -> str:
    """The key for those who type it: base32 in groups of four."""
    text = b32encode(key).decode()
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))


@sensitive_post_parameters("code")
@login_required
@require_POST
def change(request: HttpRequest) -> HttpResponse:
    """New recovery codes, or off; each wants a code once more."""
    person, form = person_of(request), CodeForm(request.POST)
    if not form.is_valid() or not _fits(request, person, form):
        context = {"left": second_factor.recovery_left(person), "form": form}
        return render(request, "account/second_factor.html", context, status=422)
    if request.POST.get("what") == "recovery":
        codes = second_factor.renew_recovery(person, now=timezone.now())
        return render(request, "account/recovery_codes.html", {"codes": codes})
    second_factor.turn_off(person, by=person, now=timezone.now())
    request.session.pop("second_factor", None)
    messages.success(request, _("The second factor is off. From now on the password alone signs you in."))
    return redirect("account:me")
