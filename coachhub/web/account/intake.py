from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from coachhub.accounts.domain.guardians import name_guardian
from coachhub.accounts.domain.health import advice_for
from coachhub.accounts.domain.intake import asks_for_consent, confirm_intake, current_intake, save_intake
from coachhub.accounts.domain.minors import is_minor, minority_of, note_minor
from coachhub.accounts.enums import GuardianState
from coachhub.accounts.models import Guardianship, Intake, User
from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.account.forms import IntakeForm
from coachhub.web.who import person_of


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def intake(request: HttpRequest) -> HttpResponse:
    if not Membership.objects.present(person_of(request)).students().exists():
        # Nobody would read a coach's or organiser's answers; a student is led here after joining.
        messages.info(request, "These questions are for the students of a camp.")
        return redirect("home")
    person = person_of(request)
    before = current_intake(person)
    form = _form(request, person, before)
    if request.method == "POST":
        answer = _take(request, form)
        if answer is not None:
            return answer
    return render(request, "account/intake.html", {"form": form, "before": before})


def _form(request: HttpRequest, person: User, before: Intake | None) -> IntakeForm:
    now = timezone.now()
    minor = is_minor(person, now=now)
    named = Guardianship.objects.filter(child=person, state__in=(GuardianState.INVITED, GuardianState.ACTIVE))
    return IntakeForm(
        request.POST or None,
        initial=IntakeForm.initial_from(before),
        is_minor=minor,
        is_grown=not minor and minority_of(person) is not None,
        has_guardian=named.exists(),
        asks_consent=asks_for_consent(person, now=now),
    )


def _take(request: HttpRequest, form: IntakeForm) -> HttpResponse | None:
    if not form.is_valid():
        return None
    try:
        saved = _save(person_of(request), form)
    except RuleBroken as broken:
        form.add_error(None, broken.sentence)
        return None
    return _onward(request, saved)


@transaction.atomic
def _save(person: User, form: IntakeForm) -> Intake:
    now = timezone.now()
    if form.birth is not None:
        year, month = form.birth
        note_minor(person, year=year, month=month, by=person, now=now)
    for address in form.guardians:
        name_guardian(person, address, by=person, now=now)
    return save_intake(person, form.answers(), by=person, now=now, agrees=form.agrees)


def _onward(request: HttpRequest, saved: Intake) -> HttpResponse:
    if saved.red_flags:
        return redirect("account:pain-advice")
    messages.success(request, "Thank you. Your answers are saved; change them whenever something changes.")
    if is_minor(saved.user, now=timezone.now()):
        return redirect("guardian:mine")
    return redirect("home")


@login_required
@require_POST
def still_so(request: HttpRequest) -> HttpResponse:
    """The same answers once more, as of today."""
    try:
        saved = confirm_intake(person_of(request), by=person_of(request), now=timezone.now())
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
        return redirect("account:intake")
    if saved.red_flags:
        return redirect("account:pain-advice")
    messages.success(request, _("Thank you. Your answers hold as of today."))
    return redirect("home")


@login_required
@require_safe
def pain_advice(request: HttpRequest) -> HttpResponse:
    current = current_intake(person_of(request))
    advice = advice_for(current.red_flags) if current else None
    if advice is None:
        return redirect("account:me")
    minor = is_minor(person_of(request), now=timezone.now())
    return render(request, "account/pain_advice.html", {"advice": advice, "is_minor": minor})
