from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import Count, Prefetch, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from coachhub.camps.domain import camps as verbs
from coachhub.camps.domain.weeks import camp_week, weeks
from coachhub.camps.enums import MemberState, Role
from coachhub.camps.forms import CampForm, CohortForm
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can, require
from coachhub.progress.domain.participation import participation, turnout
from coachhub.progress.domain.turnaround import turnaround
from coachhub.web.organiser.access import camp_for, explain
from coachhub.web.who import person_of

STUDENTS = Count(
    "memberships", filter=Q(memberships__role=Role.STUDENT) & ~Q(memberships__state=MemberState.LEFT)
)


@login_required
@require_safe
def camps(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    mine = Camp.objects.visible_to(person) & Camp.objects.run_by(person)
    rows = list(mine.annotate(students=STUDENTS).order_by("-starts_on", "name"))
    may_make = can(person, "camps.make")
    if not (rows or may_make):
        raise PermissionDenied
    context = {"camps": rows, "may_make": may_make}
    return render(request, "organiser/camps.html", context)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    require(person, "camps.make")
    form = CampForm(request.POST or None, initial={"time_zone": person.time_zone})
    if request.method == "POST" and form.is_valid():
        try:
            camp = verbs.make_camp(form.plan(), by=person, now=timezone.now())
        except RuleBroken as broken:
            form.add_error(None, broken.sentence)
        else:
            messages.success(request, "The camp is made. Now make its first cohort.")
            return redirect("organiser:camp", camp.public_id)
    return render(request, "organiser/camp_form.html", {"form": form})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def edit(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.edit")
    form = CampForm(request.POST or None, initial=CampForm.initial_from(camp))
    if request.method == "POST" and form.is_valid():
        try:
            verbs.edit_camp(camp, form.plan(), by=person_of(request), now=timezone.now())
        except RuleBroken as broken:
            form.add_error(None, broken.sentence)
        else:
            messages.success(request, "Saved.")
            return redirect("organiser:camp", camp.public_id)
    return render(request, "organiser/camp_form.html", {"form": form, "camp": camp})


@login_required
@require_safe
def camp(request: HttpRequest, public_id: UUID) -> HttpResponse:
    return camp_page(request, camp_for(request, public_id, "camps.see_participation"), CohortForm())


def camp_page(request: HttpRequest, camp: Camp, cohort_form: CohortForm) -> HttpResponse:
    cohorts = list(_cohorts(camp, Cohort.objects.visible_to(person_of(request))))
    more = {"form": cohort_form, "may_make": can(person_of(request), "camps.make")}
    return render(request, "organiser/camp.html", _camp_context(camp, cohorts) | more)


def _camp_context(camp: Camp, cohorts: list[Cohort]) -> dict[str, Any]:
    now = timezone.now()
    return {
        "camp": camp,
        "cohorts": cohorts,
        "week": camp_week(camp, now),
        "weeks": len(weeks(camp)),
        "turnout": turnout(participation(camp, cohorts, now=now)),
        "turnaround": turnaround(camp, cohorts, now=now),
    }


def _cohorts(camp: Camp, visible: QuerySet[Cohort]) -> QuerySet[Cohort]:
    coaches = (
        Membership.objects.filter(role=Role.COACH).exclude(state=MemberState.LEFT).select_related("user")
    )
    return (
        visible.filter(camp=camp)
        .annotate(students=STUDENTS)
        .prefetch_related(Prefetch("memberships", queryset=coaches, to_attr="coaches"))
        .order_by("name")
    )


@login_required
@require_POST
def close(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.edit")
    verbs.close_camp(camp, by=person_of(request), now=timezone.now())
    messages.success(
        request, "The camp is closed: nobody joins or sends any more. Everything can still be read."
    )
    return redirect("organiser:camp", public_id)


@login_required
@require_POST
def reopen(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.edit")
    verbs.reopen_camp(camp, by=person_of(request), now=timezone.now())
    messages.success(request, "The camp is open again.")
    return redirect("organiser:camp", public_id)


@login_required
@require_POST
def new_cohort(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.edit")
    form = CohortForm(request.POST)
    if not form.is_valid():
        return camp_page(request, camp, form)
    try:
        cohort = verbs.make_cohort(camp, form.cleaned_data["name"], by=person_of(request), now=timezone.now())
    except RuleBroken as broken:
        explain(request, broken)
        return redirect("organiser:camp", public_id)
    messages.success(request, "The cohort is made. Invite its coach and its students.")
    return redirect("organiser:cohort", cohort.public_id)
