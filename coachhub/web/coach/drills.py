"""The drills that can be given in a camp: the shared library, and the camp's own, made and changed by its coaches."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from coachhub.camps.models import Camp
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can, require
from coachhub.feedback.domain.camp_drills import edit_drill, make_drill, retire_drill
from coachhub.feedback.models import Drill
from coachhub.videos.models import Reference
from coachhub.web.coach.access import me
from coachhub.web.coach.drill_forms import DrillForm


@require_safe
@login_required
def drills(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = _camp(request, public_id, "feedback.see_findings")
    found = Drill.objects.in_reach(camp).select_related("film__clip")
    context = {
        "camp": camp,
        "own": [drill for drill in found if drill.camp_id],
        "shared": [drill for drill in found if not drill.camp_id],
        "may_make": can(me(request), "feedback.teach", camp),
    }
    return render(request, "coach/drills.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def new(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = _camp(request, public_id, "feedback.teach")
    form = DrillForm(request.POST if request.method == "POST" else None, films=_films(request, camp))
    if request.method == "POST" and form.is_valid():
        try:
            made = make_drill(camp, form.words(), film=form.film_chosen(), by=me(request), now=timezone.now())
        except RuleBroken as broken:
            form.add_error(None, broken.sentence)
        else:
            messages.success(request, f"{made.name} is in this camp's library.")
            return redirect("coach:drills", camp.public_id)
    return _form_page(request, camp, form, None)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def edit(request: HttpRequest, public_id: UUID) -> HttpResponse:
    drill, camp = _own_drill(request, public_id)
    form = DrillForm(
        request.POST if request.method == "POST" else None, films=_films(request, camp), drill=drill
    )
    if request.method == "POST" and form.is_valid():
        try:
            edit_drill(drill, form.words(), film=form.film_chosen(), by=me(request), now=timezone.now())
        except RuleBroken as broken:
            form.add_error(None, broken.sentence)
        else:
            messages.success(request, "Changed. Who has the drill already reads it as it was given.")
            return redirect("coach:drills", camp.public_id)
    return _form_page(request, camp, form, drill)


@require_POST
@login_required
def retire(request: HttpRequest, public_id: UUID) -> HttpResponse:
    drill, camp = _own_drill(request, public_id)
    retire_drill(drill, by=me(request), now=timezone.now())
    messages.success(request, f"{drill.name} is out of the library. Who has it keeps it.")
    return redirect("coach:drills", camp.public_id)


def _form_page(request: HttpRequest, camp: Camp, form: DrillForm, drill: Drill | None) -> HttpResponse:
    status = 422 if form.errors else 200
    context = {"camp": camp, "form": form, "drill": drill}
    return render(request, "coach/drill_form.html", context, status=status)


def _camp(request: HttpRequest, public_id: UUID, action: str) -> Camp:
    camp = get_object_or_404(Camp.objects.visible_to(me(request)), public_id=public_id)
    require(me(request), action, camp)
    return camp


def _own_drill(request: HttpRequest, public_id: UUID) -> tuple[Drill, Camp]:
    seen = Drill.objects.visible_to(me(request)).filter(camp__isnull=False).select_related("camp", "film")
    drill = get_object_or_404(seen, public_id=public_id)
    assert drill.camp is not None
    require(me(request), "feedback.teach", drill.camp)
    return drill, drill.camp


def _films(request: HttpRequest, camp: Camp) -> QuerySet[Reference]:
    return Reference.objects.usable_by(me(request)).filter(camp=camp).exclude(clip__rendition_key="")
