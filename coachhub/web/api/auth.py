from __future__ import annotations

from django.http import HttpRequest
from django.utils import timezone
from ninja.errors import HttpError
from ninja.security import HttpBearer

from coachhub.accounts.domain.tokens import token_for
from coachhub.accounts.models import ApiToken

SAFE = ("GET", "HEAD")


class Key(HttpBearer):
    """``Authorization: Bearer chk_...``. Cookies count for nothing here, so no other site can use them."""

    openapi_description = "A key made on the page “Keys for programs”."

    def authenticate(self, request: HttpRequest, token: str) -> ApiToken | None:
        found = token_for(token, now=timezone.now())
        if found is None:
            return None
        if request.method not in SAFE and not found.may_write:
            raise HttpError(403, "This key only reads. Make one that may write.")
        request.user = found.person
        return found
