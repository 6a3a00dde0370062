"""The way to what a coach may work on: out of sight is a 404, seen but not allowed a 403."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import require
from coachhub.feedback.models import Review

View = Callable[..., HttpResponse]


def me(request: HttpRequest) -> User:
    assert isinstance(request.user, User)
    return request.user


def coach_page(view: View) -> View:
    """For whoever coaches a cohort; the view gets the person's cohorts."""

    @login_required
    @wraps(view)
    def inner(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        cohorts = list(Cohort.objects.coached_by(me(request)).select_related("camp"))
        if not cohorts:
            raise PermissionDenied("coaches no cohort")
        return view(request, *args, cohorts=cohorts, **kwargs)

    return inner


def review_verb(view: Callable[[HttpRequest, Review], None]) -> View:
    """A POST that does one thing to one review and goes back to where the coach came from."""

    @require_POST
    @login_required
    @wraps(view)
    def inner(request: HttpRequest, public_id: UUID) -> HttpResponse:
        seen = Review.objects.visible_to(me(request)).select_related(
            "submission__student", "submission__camp"
        )
        review = get_object_or_404(seen, public_id=public_id)
        require(me(request), "feedback.review", review)
        try:
            view(request, review)
        except RuleBroken as broken:
            messages.error(request, broken.sentence)
        return redirect(way_back(request))

    return inner


def way_back(request: HttpRequest) -> str:
    """The page the form stood on, if it is one of ours."""
    wanted = request.POST.get("back", "")
    if wanted.startswith("/") and url_has_allowed_host_and_scheme(wanted, allowed_hosts=None):
        return wanted
    return "coach:queue"


def student_place(request: HttpRequest, public_id: UUID) -> Membership:
    """A student's place that this person answers for; a student's own place is seen, but not this page of it."""
    seen = (
        Membership.objects.visible_to(me(request)).students().select_related("user", "cohort__camp", "camp")
    )
    place = get_object_or_404(seen, public_id=public_id)
    require(me(request), "camps.see_names", place)
    return place


def checked(form: Form) -> dict[str, Any]:
    """The form's values, or its first complaint as a sentence."""
    if form.is_valid():
        return form.cleaned_data
    raise RuleBroken("form", str(next(iter(form.errors.values()))[0]))
