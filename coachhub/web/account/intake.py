from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from coachhub.accounts.domain.health import advice_for
from coachhub.accounts.domain.intake import current_intake, save_intake
from coachhub.accounts.enums import AgeBand
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
    before = current_intake(person_of(request))
    form = IntakeForm(request.POST or None, initial=IntakeForm.initial_from(before))
    if request.method == "POST":
        answer = _take(request, form)
        if answer is not None:
            return answer
    return render(request, "account/intake.html", {"form": form, "before": before})


def _take(request: HttpRequest, form: IntakeForm) -> HttpResponse | None:
    # Asked first and alone: a minor's other answers are not even looked at.
    if request.POST.get("age_band") == AgeBand.UNDER_18:
        return render(request, "account/minor.html")
    if not form.is_valid():
        return None
    person = person_of(request)
    try:
        saved = save_intake(person, form.answers(), by=person, now=timezone.now())
    except RuleBroken as broken:
        form.add_error(None, broken.sentence)
        return None
    if saved.red_flags:
        return redirect("account:pain-advice")
    messages.success(request, "Thank you. Your answers are saved; change them whenever something changes.")
    return redirect("home")


@login_required
@require_safe
def pain_advice(request: HttpRequest) -> HttpResponse:
    current = current_intake(person_of(request))
    advice = advice_for(current.red_flags) if current else None
    if advice is None:
        return redirect("account:me")
    return render(request, "account/pain_advice.html", {"advice": advice})
