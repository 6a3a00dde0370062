from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest

from coachhub.camps.enums import Role
from coachhub.camps.models import Membership


def site(request: HttpRequest) -> dict[str, Any]:
    return {"site_name": settings.SITE_NAME, "my_roles": _roles(request)}


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
