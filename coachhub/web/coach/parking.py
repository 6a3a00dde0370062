"""The list of what a student will work on later."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import require
from coachhub.feedback.domain.parked import drop, park, take_up
from coachhub.feedback.models import ParkedPriority, Review
from coachhub.web.coach.access import me, student_place


@require_POST
@login_required
def park_words(request: HttpRequest, public_id: UUID) -> HttpResponse:
    place = student_place(request, public_id)
    require(me(request), "feedback.write", place)
    try:
        park(place, words=request.POST.get("words", ""), by=me(request), now=timezone.now())
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(request, "Kept for later.")
    return _back(place)


@require_POST
@login_required
def take_up_words(request: HttpRequest, public_id: UUID) -> HttpResponse:
    parked, place = _parked(request, public_id)
    try:
        review = Review.objects.writable_by(me(request)).get(
            public_id=UUID(request.POST.get("review", "")), submission__student=place.user
        )
        take_up(parked, review, by=me(request), now=timezone.now())
    except (ValueError, Review.DoesNotExist):
        messages.error(request, "Take a review of this student first; then it can become the one thing.")
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(request, "It is the one thing of the answer that you are writing.")
        return redirect("coach:desk", review.public_id)
    return _back(place)


@require_POST
@login_required
def drop_words(request: HttpRequest, public_id: UUID) -> HttpResponse:
    parked, place = _parked(request, public_id)
    try:
        drop(parked, by=me(request), now=timezone.now())
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    return _back(place)


def _parked(request: HttpRequest, public_id: UUID) -> tuple[ParkedPriority, Membership]:
    """A student in sight of whom the person is a coach; the student never sees the list."""
    parked = get_object_or_404(ParkedPriority.objects.select_related("camp"), public_id=public_id)
    places = (
        Membership.objects.visible_to(me(request)).students().select_related("user", "cohort__camp", "camp")
    )
    place = get_object_or_404(places.exclude(user=me(request)), user=parked.student_id, camp=parked.camp_id)
    require(me(request), "feedback.write", place)
    return parked, place


def _back(place: Membership) -> HttpResponse:
    return redirect("coach:student", place.public_id)
