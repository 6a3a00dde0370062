"""Addresses of private media: bound to one thing, one person and a short time."""

from __future__ import annotations

import time
from typing import Any

from django.conf import settings
from django.core.signing import Signer
from django.urls import reverse
from django.utils.crypto import constant_time_compare

_signer = Signer(salt="coachhub.media")


class BadLink(ValueError):
    """The address is tampered with, somebody else's, or out of date."""


def media_link(kind: str, obj: Any, user: Any, *, now_s: float | None = None) -> str:
    """The address of ``kind`` ("clip.rendition", ...) of ``obj`` for ``user``, valid for one to two lifetimes.

    The end is rounded so that a page loaded twice gives the same address, and the browser's copy is used again.
    """
    life_s = settings.MEDIA_LINK_SECONDS
    until = (int(time.time() if now_s is None else now_s) // life_s + 2) * life_s
    path = reverse("media:file", kwargs={"kind": kind, "public_id": obj.public_id})
    return f"{path}?until={until}&for={_mark(kind, obj.public_id, user, until)}"


def seconds_left(
    kind: str, public_id: Any, user: Any, until: str, mark: str, *, now_s: float | None = None
) -> int:
    """How long the address is still good; BadLink if it isn't."""
    if not until.isascii() or not until.isdigit() or len(until) > 12:
        raise BadLink("until")
    expected = _mark(kind, public_id, user, int(until))
    if not constant_time_compare(mark, expected):
        raise BadLink("mark")
    left = int(until) - int(time.time() if now_s is None else now_s)
    if left <= 0:
        raise BadLink("expired")
    return left


def _mark(kind: str, public_id: Any, user: Any, until: int) -> str:
    return _signer.signature(f"{kind}:{public_id}:{user.pk}:{until}")
