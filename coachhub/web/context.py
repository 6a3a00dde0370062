from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest

from coachhub.accounts.models import Guardianship, User
from coachhub.camps.enums import Role
from coachhub.camps.models import Membership


def site(request: HttpRequest) -> dict[str, Any]:
    return {"site_name": settings.SITE_NAME, "my_roles": _roles(request), "reads_along": reads_along(request)}


def reads_along(request: HttpRequest) -> bool:
    """Whether the person is somebody's guardian here."""
    user = getattr(request, "user", None)
    if not isinstance(user, User):
        return False
    if not hasattr(request, "_reads_along"):
        request._reads_along = Guardianship.objects.reading(user).exists()  # type: ignore[attr-defined]
    return request._reads_along  # type: ignore[attr-defined,no-any-return]


def _roles(request: HttpRequest) -> frozenset[str]:
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return frozenset()
    if not hasattr(request, "_my_roles"):
        held = frozenset(Membership.objects.present(user).values_list("role", flat=True).distinct())
        if user.may_make_camps:
            held |= {str(Role.ORGANISER)}
        request._my_roles = held  # type: ignore[attr-defined]
    return request._my_roles  # type: ignore[attr-defined,no-any-return]
