"""What a person agrees to: an adult decides, a minor can say no."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from coachhub.accounts.domain.intake import asks_for_consent
from coachhub.accounts.domain.minors import is_minor, minority_of
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.guardian.words import change_consents, consent_lines
from coachhub.web.who import person_of


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def consents(request: HttpRequest) -> HttpResponse:
    person, now = person_of(request), timezone.now()
    minor = is_minor(person, now=now)
    if request.method == "POST":
        _save(request)
        return redirect("guardian:mine" if minor else "account:consents")
    if minor:
        return redirect("guardian:mine")
    context = {
        "lines": consent_lines(person, person, now=now),
        "came_of_age": minority_of(person) is not None and asks_for_consent(person, now=now),
    }
    return render(request, "account/consents.html", context)


def _save(request: HttpRequest) -> None:
    person = person_of(request)
    try:
        answered = change_consents(request.POST, person, by=person, now=timezone.now())
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
        return
    if answered:
        messages.success(request, _("Saved. It holds from now on."))
    else:
        messages.error(request, _("Choose yes or no first."))
