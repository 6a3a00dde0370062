"""The library of reference swings and demonstrations: list, new, one, share, delete."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from coachhub.accounts.enums import Hand
from coachhub.camps.enums import CampState
from coachhub.camps.models import Camp, Cohort
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can, require
from coachhub.swings.domain.references import delete_reference
from coachhub.videos.domain.references import add_reference, edit_reference, share_reference
from coachhub.videos.enums import ClipState, ClubClass, ReferenceKind, View
from coachhub.videos.models import Reference
from coachhub.web.coach.access import coach_page, me
from coachhub.web.coach.library.forms import ReferenceForm, values_of
from coachhub.web.player import player_of_reference

FILTERS: dict[str, tuple[str, list[tuple[str, str]]]] = {
    "kind": ("Shows", [(str(value), str(label)) for value, label in ReferenceKind.choices]),
    "view": ("View", [(str(value), str(label)) for value, label in View.choices]),
    "club_class": ("Club", [(str(value), str(label)) for value, label in ClubClass.choices]),
    "handedness": ("Plays", [(str(value), str(label)) for value, label in Hand.choices]),
}


@dataclass(frozen=True)
class Filter:
    name: str
    label: str
    choices: list[tuple[str, str]]
    chosen: str


@require_safe
@coach_page
def references(request: HttpRequest, cohorts: list[Cohort]) -> HttpResponse:
    filters = _filters(request.GET)
    found = Reference.objects.usable_by(me(request)).select_related("owner", "camp", "clip")
    shown = _narrowed(found, filters)
    context = {
        "references": shown,
        "filters": filters,
        "is_narrowed": any(one.chosen for one in filters),
        "may_add": bool(_open_camps(cohorts)),
    }
    return render(request, "coach/library/list.html", context)


def _filters(given: QueryDict) -> list[Filter]:
    """What makes no sense is left out rather than refused."""
    made = []
    for name, (label, choices) in FILTERS.items():
        value = given.get(name, "")
        made.append(Filter(name, label, choices, value if value in dict(choices) else ""))
    return made


def _narrowed(found: QuerySet[Reference], filters: list[Filter]) -> QuerySet[Reference]:
    return found.filter(**{one.name: one.chosen for one in filters if one.chosen})


def _open_camps(cohorts: list[Cohort]) -> list[Camp]:
    return list(
        {cohort.camp.pk: cohort.camp for cohort in cohorts if cohort.camp.state == CampState.OPEN}.values()
    )


@require_http_methods(["GET", "HEAD", "POST"])
@coach_page
def new(request: HttpRequest, cohorts: list[Cohort]) -> HttpResponse:
    camps = _open_camps(cohorts)
    first = {"camp": str(camps[0].public_id)} if camps else {}
    form = ReferenceForm(request.POST or None, camps=camps, initial=first)
    if request.method == "POST" and form.is_valid():
        camp = next(camp for camp in camps if str(camp.public_id) == form.cleaned_data["camp"])
        try:
            made = add_reference(camp, form.about(), by=me(request), now=timezone.now())
            return redirect("coach:reference", made.public_id)
        except RuleBroken as broken:
            form.add_error(None, broken.sentence)
    return render(request, "coach/library/form.html", {"form": form, "heading": "New reference"})


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def reference(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """One reference; its owner gives it the film here, and changes what is said of it."""
    shown = _reference(request, public_id)
    form = ReferenceForm(request.POST or None, camps=[shown.camp], initial=values_of(shown))
    if request.method == "POST":
        require(me(request), "videos.edit_reference", shown)
        if form.is_valid() and _edited(request, shown, form):
            messages.success(request, "Changed.")
            return redirect("coach:reference", public_id)
    return render(request, "coach/library/one.html", _context(request, shown, form))


def _edited(request: HttpRequest, shown: Reference, form: ReferenceForm) -> bool:
    try:
        edit_reference(shown, form.about(), by=me(request), now=timezone.now())
    except RuleBroken as broken:
        form.add_error(None, broken.sentence)
        return False
    return True


def _context(request: HttpRequest, shown: Reference, form: ReferenceForm) -> dict[str, Any]:
    clip = getattr(shown, "clip", None)
    is_mine = can(me(request), "videos.edit_reference", shown)
    moving = (ClipState.RECEIVED, ClipState.PLAYABLE)
    return {
        "reference": shown,
        "clip": clip,
        "form": form,
        "is_mine": is_mine,
        "takes_film": is_mine and (clip is None or clip.state == ClipState.REFUSED),
        "is_moving": clip is not None
        and (clip.state in moving or (clip.state == ClipState.USABLE and not clip.rendition_key)),
        "player": player_of_reference(shown, me(request)) if clip and clip.rendition_key else None,
        "answers": shown.shown_to.count() if is_mine else 0,
    }


@require_POST
@login_required
def share(request: HttpRequest, public_id: UUID) -> HttpResponse:
    shown = _reference(request, public_id)
    require(me(request), "videos.edit_reference", shown)
    shared = request.POST.get("shared") == "yes"
    share_reference(shown, shared=shared, by=me(request), now=timezone.now())
    sentence = "The camp's coaches can use it now." if shared else "Only you can use it now."
    messages.success(request, sentence)
    return redirect("coach:reference", public_id)


@require_POST
@login_required
def delete(request: HttpRequest, public_id: UUID) -> HttpResponse:
    shown = _reference(request, public_id)
    require(me(request), "videos.edit_reference", shown)
    delete_reference(shown, by=me(request), now=timezone.now())
    messages.success(request, "Deleted, with its film.")
    return redirect("coach:references")


def _reference(request: HttpRequest, public_id: UUID) -> Reference:
    usable = Reference.objects.usable_by(me(request)).select_related("camp", "owner", "clip")
    return get_object_or_404(usable, public_id=public_id)
