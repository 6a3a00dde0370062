"""Keys with which a person's own programs use the API."""

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
from django.views.decorators.http import require_http_methods, require_POST

from coachhub.accounts.domain.tokens import LIFETIMES, live_tokens, make_token, revoke_token
from coachhub.accounts.models import ApiToken
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.who import person_of


class KeyForm(forms.Form):
    name = forms.CharField(
        label=gettext_lazy("What is it for?"),
        max_length=60,
        help_text=gettext_lazy("For example: my own statistics"),
    )
    days = forms.TypedChoiceField(
        label=gettext_lazy("Ends after"),
        coerce=int,
        choices=[(days, f"{days} days") for days in LIFETIMES],
    )
    may_write = forms.BooleanField(
        label=gettext_lazy("It may also write in threads, in my name"), required=False
    )


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def keys(request: HttpRequest) -> HttpResponse:
    person, now = person_of(request), timezone.now()
    form, key = KeyForm(request.POST or None), ""
    if request.method == "POST" and form.is_valid():
        try:
            _row, key = make_token(person, **form.cleaned_data, by=person, now=now)
            form = KeyForm()
        except RuleBroken as broken:
            form.add_error(None, broken.sentence)
    context = {"form": form, "new_key": key, "tokens": live_tokens(person, now=now)}
    status = 422 if request.method == "POST" and not key else 200
    return render(request, "account/keys.html", context, status=status)


@login_required
@require_POST
def end(request: HttpRequest, public_id: UUID) -> HttpResponse:
    person = person_of(request)
    token = get_object_or_404(ApiToken.objects.visible_to(person), public_id=public_id)
    revoke_token(token, by=person, now=timezone.now())
    messages.success(request, _("The key has ended. Programs that use it are refused from now on."))
    return redirect("account:keys")
