"""Cases as they are read, and what whom they show may do with them."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from coachhub.accounts.domain.minors import under_guard
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.sights import note_sight
from coachhub.common.rules import can
from coachhub.feedback.domain import cases as verbs
from coachhub.feedback.enums import CaseState
from coachhub.feedback.models import Case
from coachhub.web.who import person_of

SHOWN = 60


def case_for(request: HttpRequest, public_id: UUID) -> Case:
    seen = Case.objects.visible_to(person_of(request))
    return get_object_or_404(seen.select_related("cohort__camp", "student", "by"), public_id=public_id)


@require_safe
@login_required
def cases(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    rows = Case.objects.visible_to(person).select_related("cohort__camp", "student")[:SHOWN]
    listed = [(case, can(person, "feedback.review", case)) for case in rows]
    return render(request, "cases/list.html", {"listed": listed})


@require_safe
@login_required
def case(request: HttpRequest, public_id: UUID) -> HttpResponse:
    person, found = person_of(request), case_for(request, public_id)
    is_mine = found.student_id == person.pk
    if found.state == CaseState.DRAFT and can(person, "feedback.review", found):
        return redirect("cases:look", found.public_id)
    note_sight(found, by=person, now=timezone.now(), scope=found.cohort.camp.public_id)
    context = {
        "case": found,
        "is_mine": is_mine,
        "may_be_named": is_mine and not under_guard(person),
        "may_take_down": verbs.may_take_down(found, person),
        "teaches": can(person, "feedback.review", found),
    }
    return render(request, "cases/case.html", context)


@require_POST
@login_required
def name(request: HttpRequest, public_id: UUID) -> HttpResponse:
    found = case_for(request, public_id)
    if found.student_id != person_of(request).pk:
        raise PermissionDenied("only whom it shows")
    try:
        verbs.show_name(found, request.POST.get("name") == "yes", by=person_of(request), now=timezone.now())
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(request, "Saved. It holds from now on.")
    return redirect("cases:case", found.public_id)


@require_POST
@login_required
def take_down(request: HttpRequest, public_id: UUID) -> HttpResponse:
    found = case_for(request, public_id)
    if not verbs.may_take_down(found, person_of(request)):
        raise PermissionDenied("not theirs to take down")
    verbs.take_down(found, by=person_of(request), now=timezone.now())
    messages.success(request, "Taken down: page and film are deleted, and nobody finds a way there any more.")
    return redirect("cases:list")
