"""The way to what a guardian reads: exactly the children's things, everything else is not found."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from coachhub.accounts.domain.guardians import children_of
from coachhub.accounts.enums import GuardianState
from coachhub.accounts.models import Guardianship, User
from coachhub.camps.models import Membership
from coachhub.web.who import person_of

View = Callable[..., HttpResponse]


def guardian_page(view: View) -> View:
    """For whoever reads along with somebody; for everybody else there is no such page."""

    @login_required
    @wraps(view)
    def inner(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not children_of(person_of(request)).exists():
            raise Http404("nobody's guardian")
        return view(request, *args, **kwargs)

    return inner


def child_for(request: HttpRequest, public_id: UUID) -> User:
    return get_object_or_404(children_of(person_of(request)), public_id=public_id)


def guardianship_of(request: HttpRequest, child: User) -> Guardianship:
    return get_object_or_404(Guardianship.objects.reading(person_of(request)), child=child)


def decides(guardianship: Guardianship) -> bool:
    """Of a minor; who reads along with a grown-up only reads."""
    return guardianship.state == GuardianState.ACTIVE


def places_of(child: User) -> list[Membership]:
    rows = Membership.objects.present(child).students().select_related("camp", "cohort")
    return list(rows.order_by("-camp__starts_on", "-camp_id"))
