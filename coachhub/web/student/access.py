"""The way to a student's own rows: what belongs to somebody else is out of sight."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.camps.models import Membership
from coachhub.feedback.models import Review, Thread
from coachhub.videos.models import Submission
from coachhub.web.who import person_of

View = Callable[..., HttpResponse]


def places_of(user: User) -> list[Membership]:
    """Where the person is a student, the camp that starts last first."""
    held = Membership.objects.present(user).filter(role=Role.STUDENT).select_related("camp", "cohort__camp")
    return list(held.order_by("-camp__starts_on", "-camp_id"))


def student_page(view: View) -> View:
    """For students only; the view gets the person's places, for everybody else there is no such page."""

    @login_required
    @wraps(view)
    def inner(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        places = places_of(person_of(request))
        if not places:
            raise Http404("no place as a student")
        return view(request, *args, places=places, **kwargs)

    return inner


def chosen_place(request: HttpRequest, places: list[Membership]) -> Membership:
    """The camp named in the address, else the latest one; a camp that is not one's own is not found."""
    wanted = request.GET.get("camp") or request.POST.get("camp")
    if not wanted:
        return places[0]
    for place in places:
        if str(place.camp.public_id) == wanted:
            return place
    raise Http404("no such camp")


def own_submission(user: Any, public_id: UUID) -> Submission:
    own = Submission.objects.visible_to(user).filter(student=user)
    return get_object_or_404(own.select_related("camp", "cohort__camp", "student"), public_id=public_id)


def own_answer(user: Any, public_id: UUID) -> Review:
    own = Review.objects.visible_to(user).filter(submission__student=user)
    related = ("submission__camp", "submission__cohort", "drill", "published_by", "finding")
    return get_object_or_404(own.select_related(*related), public_id=public_id)


def own_thread(user: Any, public_id: UUID) -> Thread:
    own = Thread.objects.visible_to(user).filter(student=user)
    return get_object_or_404(own.select_related("camp", "student"), public_id=public_id)
