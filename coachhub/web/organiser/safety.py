"""Minors of a camp: who answers for them, what was agreed to, how much they may hit, and concerns of guardians."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from coachhub.accounts.domain import guardians
from coachhub.accounts.domain.minors import correct_birth, is_minor, minority_of
from coachhub.accounts.enums import GuardianState, Purpose
from coachhub.accounts.forms import BirthForm
from coachhub.accounts.models import Guardianship, StandingConsent
from coachhub.camps.domain.care import Care, care_of, set_care
from coachhub.camps.domain.concerns import LONGEST, answer_concern, take_up
from coachhub.camps.models import Camp, Concern, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import require
from coachhub.feedback.domain.junior_load import JuniorLoad, junior_loads
from coachhub.web.organiser.access import camp_for, explain, member_for
from coachhub.web.who import person_of

SHOWN = (GuardianState.INVITED, GuardianState.ACTIVE)


class CareForm(forms.Form):
    balls_per_day = forms.IntegerField(
        label=gettext_lazy("Most balls a day"), min_value=5, max_value=200, help_text=gettext_lazy("5 to 200")
    )
    days_per_week = forms.IntegerField(
        label=gettext_lazy("Most days of practice a week"),
        min_value=1,
        max_value=6,
        help_text=gettext_lazy("1 to 6: one or two days of rest a week are usual advice for the young."),
    )
    intake_weeks = forms.IntegerField(
        label=gettext_lazy("Ask everybody's answers again after so many weeks"), min_value=2, max_value=26
    )

    def care(self) -> Care:
        return Care(**self.cleaned_data)


class AnswerForm(forms.Form):
    answer = forms.CharField(
        label=gettext_lazy("Your answer to the guardian"),
        max_length=LONGEST,
        widget=forms.Textarea(attrs={"rows": 4}),
    )


@dataclass(frozen=True)
class Ward:
    place: Membership
    guardians: tuple[Guardianship, ...]
    consents: tuple[tuple[str, bool], ...]
    load: JuniorLoad | None
    birth: BirthForm


@login_required
@require_safe
def safety(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.manage_members")
    return _page(request, camp, CareForm(initial=care_of(camp).__dict__))


def _page(request: HttpRequest, camp: Camp, form: CareForm) -> HttpResponse:
    concerns = Concern.objects.visible_to(person_of(request)).filter(camp=camp)
    context = {
        "camp": camp,
        "form": form,
        "wards": _wards(camp),
        "concerns": concerns.select_related("child", "by", "about", "taken_by"),
        "answer_form": AnswerForm(),
    }
    return render(request, "organiser/safety.html", context)


def _wards(camp: Camp) -> list[Ward]:
    rows = Membership.objects.students().filter(
        camp=camp, user__minority__isnull=False, user__minority__grown_at=None
    )
    places = list(rows.select_related("user__minority", "camp", "cohort").order_by("user__name"))
    people = [place.user_id for place in places]
    loads = junior_loads(people, camp, now=timezone.now())
    held: dict[int, set[str]] = defaultdict(set)
    for row in StandingConsent.objects.filter(person__in=people):
        held[row.person_id].add(row.purpose)
    named: dict[int, list[Guardianship]] = defaultdict(list)
    for guardianship in Guardianship.objects.filter(child__in=people, state__in=SHOWN).select_related(
        "guardian"
    ):
        named[guardianship.child_id].append(guardianship)
    return [_ward(place, named[place.user_id], held[place.user_id], loads) for place in places]


def _ward(place: Membership, named: list[Guardianship], held: set[str], loads: dict[int, JuniorLoad]) -> Ward:
    minor = place.user.minority
    birth = {"birth_month": minor.birth_month, "birth_year": minor.birth_year}
    return Ward(
        place=place,
        guardians=tuple(named),
        consents=tuple((str(purpose.label), purpose in held) for purpose in Purpose),
        load=loads.get(place.user_id),
        birth=BirthForm(initial=birth, prefix=str(place.public_id)),
    )


@login_required
@require_POST
def care(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.manage_members")
    form = CareForm(request.POST)
    if not form.is_valid():
        return _page(request, camp, form)
    set_care(camp, form.care(), by=person_of(request), now=timezone.now())
    messages.success(request, _("Saved. Minors, guardians and coaches see the new bounds."))
    return redirect("organiser:safety", public_id)


@login_required
@require_http_methods(["POST"])
def concern(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take a concern up, or answer it. Whom it is about doesn't even learn that it is there."""
    person = person_of(request)
    seen = Concern.objects.visible_to(person).select_related("camp", "about")
    found = get_object_or_404(seen, public_id=public_id)
    require(person, "camps.manage_members", found)
    try:
        if request.POST.get("do") == "take":
            take_up(found, by=person, now=timezone.now())
        else:
            answer_concern(found, request.POST.get("answer", ""), by=person, now=timezone.now())
    except RuleBroken as broken:
        explain(request, broken)
    else:
        messages.success(request, _("Saved. The guardian reads it."))
    return redirect("organiser:safety", found.camp.public_id)


@login_required
@require_POST
def guardian(request: HttpRequest, public_id: UUID, guardianship_id: UUID) -> HttpResponse:
    """Send a guardian's letter again, or end a guardianship that isn't right."""
    place = member_for(request, public_id, "camps.manage_members")
    rows = Guardianship.objects.filter(child=place.user, state__in=SHOWN)
    row = get_object_or_404(rows, public_id=guardianship_id)
    do = guardians.end if row.state == GuardianState.ACTIVE else guardians.withdraw_invitation
    if request.POST.get("do") == "again":
        do = guardians.send_again
    try:
        do(row, by=person_of(request), now=timezone.now())
    except RuleBroken as broken:
        explain(request, broken)
    else:
        messages.success(request, _("Done."))
    return redirect("organiser:safety", place.camp.public_id)


@login_required
@require_POST
def birth(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Somebody picked “under 18”, or the month, by mistake."""
    place = member_for(request, public_id, "camps.manage_members")
    form, minor = BirthForm(request.POST, prefix=str(place.public_id)), minority_of(place.user)
    data = form.cleaned_data if form.is_valid() else {}
    if minor is None or not data.get("birth_month") or not data.get("birth_year"):
        messages.error(request, _("Give a month and a year of birth."))
        return redirect("organiser:safety", place.camp.public_id)
    try:
        correct_birth(
            minor,
            year=data["birth_year"],
            month=data["birth_month"],
            by=person_of(request),
            now=timezone.now(),
        )
    except RuleBroken as broken:
        explain(request, broken)
    else:
        still = is_minor(place.user, now=timezone.now())
        messages.success(request, _("Saved.") if still else _("Saved. This student counts as grown up now."))
    return redirect("organiser:safety", place.camp.public_id)
