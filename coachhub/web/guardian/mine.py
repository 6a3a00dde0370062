"""A minor's own page about guardians; a grown-up finds here with whom the account is shared on."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import wraps
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from coachhub.accounts.domain import guardians
from coachhub.accounts.domain.consent import NEEDED_TO_SEND, standing
from coachhub.accounts.domain.minors import is_minor, minority_of
from coachhub.accounts.enums import GuardianState
from coachhub.accounts.models import Guardianship, User
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.guardian.words import consent_lines
from coachhub.web.who import person_of

View = Callable[..., HttpResponse]
SHOWN = (GuardianState.INVITED, GuardianState.ACTIVE, GuardianState.SHARED, GuardianState.GROWN)


def ward_page(view: View) -> View:
    """For who is or was a minor here."""

    @login_required
    @wraps(view)
    def inner(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if minority_of(person_of(request)) is None:
            raise Http404("never was a minor here")
        return view(request, *args, **kwargs)

    return inner


@require_safe
@ward_page
def mine(request: HttpRequest) -> HttpResponse:
    person, now = person_of(request), timezone.now()
    rows = Guardianship.objects.filter(child=person, state__in=SHOWN).select_related("guardian")
    minor = is_minor(person, now=now)
    open_rows = [row for row in rows if row.state in guardians.OPEN]
    context = {
        "rows": rows,
        "is_minor": minor,
        "may_name": minor and len(open_rows) < guardians.MOST,
        "most": guardians.MOST,
        "may_send": standing(person) >= set(NEEDED_TO_SEND),
        "lines": consent_lines(person, person, now=now),
        "now": now,
    }
    return render(request, "guardian/mine.html", context)


@require_POST
@ward_page
def name(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    try:
        guardians.name_guardian(person, request.POST.get("email", ""), by=person, now=timezone.now())
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(request, _("The letter is on its way."))
    return redirect("guardian:mine")


def _own(request: HttpRequest, public_id: UUID) -> Guardianship:
    return get_object_or_404(Guardianship.objects.filter(child=person_of(request)), public_id=public_id)


def _verb(request: HttpRequest, public_id: UUID, do: Callable[..., Guardianship], done: str) -> HttpResponse:
    row, person, now = _own(request, public_id), person_of(request), timezone.now()
    _try(request, do, row, person, now, done)
    return redirect("guardian:mine")


def _try(
    request: HttpRequest,
    do: Callable[..., Guardianship],
    row: Guardianship,
    person: User,
    now: datetime,
    done: str,
) -> None:
    try:
        do(row, by=person, now=now)
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(request, done)


@require_POST
@ward_page
def again(request: HttpRequest, public_id: UUID) -> HttpResponse:
    return _verb(request, public_id, guardians.send_again, _("Another letter is on its way."))


@require_POST
@ward_page
def withdraw(request: HttpRequest, public_id: UUID) -> HttpResponse:
    return _verb(request, public_id, guardians.withdraw_invitation, _("The invitation is withdrawn."))


@require_POST
@ward_page
def share(request: HttpRequest, public_id: UUID) -> HttpResponse:
    return _verb(request, public_id, guardians.share_on, _("They read along again, until you end it."))


@require_POST
@ward_page
def end_sharing(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Only for grown-ups: a minor doesn't end the say of the own guardian."""
    row = _own(request, public_id)
    if row.state != GuardianState.SHARED:
        messages.error(request, _("Under 18, only your guardian or the organiser can end this."))
        return redirect("guardian:mine")
    return _verb(request, public_id, guardians.end, _("They no longer read along."))
