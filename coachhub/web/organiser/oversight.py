"""What an organiser answers for: what each student got, who saw and changed what, and moving a coach's work."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_safe

from coachhub.accounts.models import User
from coachhub.camps.domain.members import coaches_of_camp
from coachhub.camps.enums import Role
from coachhub.camps.forms import CampForm
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import require
from coachhub.feedback.domain.reassigning import held_by, reassign
from coachhub.progress.domain.audit import PAGE, Wanted, audit_log
from coachhub.progress.domain.copying import Wanted as WantedOfCamp
from coachhub.progress.domain.copying import copy_camp
from coachhub.progress.domain.service_record import service_record
from coachhub.web.organiser.access import camp_for, cohort_for, member_for
from coachhub.web.organiser.audit_words import detail_words, thing_words, verb_words
from coachhub.web.who import person_of


@login_required
@require_safe
def record(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The service record of one student."""
    member = member_for(request, public_id, "camps.see_participation")
    if member.role != Role.STUDENT:
        raise Http404("not a student")
    rows = service_record(member, now=timezone.now())
    context = {"member": member, "camp": member.camp, "rows": rows}
    with timezone.override(member.camp.zone):
        return render(request, "organiser/record.html", context)


@login_required
@require_safe
def audit(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.export")
    wanted = _wanted(request, camp)
    entries = audit_log(camp, wanted)
    context = {
        "camp": camp,
        "people": _people(camp),
        "entries": [(one, verb_words(one), thing_words(one), detail_words(one)) for one in entries],
        "earlier": _earlier(request, entries[-1].at) if len(entries) == PAGE else "",
        "chosen": request.GET,
    }
    with timezone.override(camp.zone):
        return render(request, "organiser/audit.html", context)


def _people(camp: Camp) -> list[User]:
    ids = Membership.objects.filter(camp=camp).values("user_id")
    return list(User.objects.filter(pk__in=ids).order_by("name", "pk"))


def _wanted(request: HttpRequest, camp: Camp) -> Wanted:
    """Whoever is named in the address must be of this camp."""
    people = {str(person.public_id): person for person in _people(camp)}
    kind = request.GET.get("kind", "")
    before = (
        parse_datetime(request.GET.get("before", "").replace(" ", "+")) if "before" in request.GET else None
    )
    return Wanted(
        actor=people.get(request.GET.get("by", "")),
        about=people.get(request.GET.get("about", "")),
        kind=kind if kind in ("change", "sight") else "",
        before=before if before is not None and timezone.is_aware(before) else None,
    )


def _earlier(request: HttpRequest, before: datetime) -> str:
    asked = request.GET.copy()
    asked["before"] = before.isoformat()
    return asked.urlencode()


class ReassignForm(forms.Form):
    away_from = forms.ModelChoiceField(queryset=User.objects.none(), label=gettext_lazy("From"))
    to = forms.ModelChoiceField(queryset=User.objects.none(), label=gettext_lazy("To"))

    def __init__(self, *args: Any, cohort: Cohort, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        ever = Membership.objects.filter(cohort=cohort, role=Role.COACH).values("user_id")
        self.fields["away_from"].queryset = User.objects.filter(pk__in=ever).order_by("name")  # type: ignore[attr-defined]
        self.fields["to"].queryset = coaches_of_camp(cohort.camp)  # type: ignore[attr-defined]


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def move_work(request: HttpRequest, public_id: UUID) -> HttpResponse:
    cohort = cohort_for(request, public_id, "camps.manage_members")
    form = ReassignForm(request.POST or None, cohort=cohort)
    if request.method == "POST" and form.is_valid():
        try:
            moved = reassign(cohort, **form.cleaned_data, by=person_of(request), now=timezone.now())
        except RuleBroken as broken:
            form.add_error(None, broken.sentence)
        else:
            words = ngettext("%d review went over.", "%d reviews went over.", moved) % moved
            messages.success(request, words)
            return redirect("organiser:cohort", public_id)
    coaches = form.fields["away_from"].queryset  # type: ignore[attr-defined]
    context = {
        "cohort": cohort,
        "camp": cohort.camp,
        "form": form,
        "held": [(coach, held_by(coach, cohort)) for coach in coaches],
    }
    return render(request, "organiser/move_work.html", context, status=422 if form.errors else 200)


class CopyForm(CampForm):
    cohorts = forms.BooleanField(
        label=gettext_lazy("Cohorts, without their people"), required=False, initial=True
    )
    bands = forms.BooleanField(label=gettext_lazy("Bands of the signs"), required=False, initial=True)
    cause_map = forms.BooleanField(
        label=gettext_lazy("The camp's changes of the cause map"), required=False, initial=True
    )
    drills = forms.BooleanField(label=gettext_lazy("The camp's own drills"), required=False, initial=True)
    tasks = forms.BooleanField(
        label=gettext_lazy("The tasks, as many days after the first day"), required=False, initial=True
    )
    PARTS = ("cohorts", "bands", "cause_map", "drills", "tasks")

    def wanted(self) -> WantedOfCamp:
        return WantedOfCamp(**{name: self.cleaned_data[name] for name in self.PARTS})

    def plan(self) -> Any:
        self.cleaned_data = {
            name: value for name, value in self.cleaned_data.items() if name not in self.PARTS
        }
        return super().plan()


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def copy(request: HttpRequest, public_id: UUID) -> HttpResponse:
    old = camp_for(request, public_id, "camps.edit")
    require(person_of(request), "camps.make")
    form = CopyForm(request.POST or None, initial=CampForm.initial_from(old) | {"name": ""})
    if request.method == "POST" and form.is_valid():
        wanted = form.wanted()
        try:
            camp = copy_camp(old, form.plan(), wanted, by=person_of(request), now=timezone.now())
        except RuleBroken as broken:
            form.add_error(None, broken.sentence)
        else:
            messages.success(request, _("The new camp is made. Invite its coaches and students."))
            return redirect("organiser:camp", camp.public_id)
    return render(request, "organiser/copy.html", {"form": form, "camp": old})
