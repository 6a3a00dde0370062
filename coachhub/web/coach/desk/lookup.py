"""Finding the review behind an address, and answering a script or a person in the way each understands."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import get_object_or_404, redirect

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.common.rules import require
from coachhub.feedback.models import Review
from coachhub.swings.models import Swing

DeskView = Callable[..., HttpResponseBase]


def me(request: HttpRequest) -> User:
    assert isinstance(request.user, User)
    return request.user


def review_of(request: HttpRequest, public_id: UUID) -> Review:
    """Out of sight is a 404; an organiser or the student, who may see it but not work on it, gets a 403."""
    seen = Review.objects.visible_to(me(request)).select_related(
        "submission__student", "submission__camp", "submission__cohort", "claimed_by", "drill"
    )
    review = get_object_or_404(seen, public_id=public_id)
    require(me(request), "feedback.review", review)
    return review


def swing_of(review: Review, public_id: UUID) -> Swing:
    return get_object_or_404(Swing, clip__submission=review.submission_id, public_id=public_id)


def wants_json(request: HttpRequest) -> bool:
    return request.headers.get("Accept", "").startswith("application/json")


def desk_view(view: DeskView) -> DeskView:
    """Signed in, allowed, and what can't be done is said: as JSON to the script, as a message to a person."""

    @login_required
    @wraps(view)
    def wrapped(request: HttpRequest, public_id: UUID, **kwargs: Any) -> HttpResponseBase:
        review = review_of(request, public_id)
        try:
            return view(request, review, **kwargs)
        except RuleBroken as broken:
            return refused(request, review, broken)

    return wrapped


def refused(request: HttpRequest, review: Review, broken: RuleBroken) -> HttpResponse:
    if wants_json(request):
        status = 409 if isinstance(broken, Stale) else 400
        return JsonResponse({"code": broken.code, "sentence": broken.sentence}, status=status)
    messages.error(request, broken.sentence)
    return redirect("coach:desk", public_id=review.public_id)


def first_error(form: Any) -> RuleBroken:
    """The form's first complaint as a rule's sentence."""
    name, errors = next(iter(form.errors.items()))
    # A field without a label says it all in its sentence; keys are for machines.
    label = form.fields[name].label if name in form.fields else ""
    return RuleBroken("form", f"{label}: {errors[0]}" if label else str(errors[0]))
