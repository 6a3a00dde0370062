from __future__ import annotations

from django.http import HttpRequest

from coachhub.accounts.models import User


def person_of(request: HttpRequest) -> User:
    """The signed-in person; only for views that let nobody else in."""
    if not isinstance(request.user, User):
        raise TypeError("this view must be behind login_required")
    return request.user
