"""Setting another swing beside the one under review, and keeping the pair in the answer."""

from __future__ import annotations

import json
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.beside import find_beside
from coachhub.feedback.domain.comparisons import drop_comparison, keep_comparison
from coachhub.feedback.models import Review
from coachhub.web.beside import beside_data, kept_of
from coachhub.web.coach.desk.lookup import desk_view, me, wants_json

MOST_BODY_BYTES = 20_000


@require_safe
@desk_view
def beside(request: HttpRequest, review: Review) -> HttpResponse:
    """``?first=…&second=…``: all that the browser needs to show the two side by side."""
    first, second = (find_beside(review, _id(request, name), by=me(request)) for name in ("first", "second"))
    if first is None or second is None:
        raise Http404
    data = beside_data(first.swing, second, me(request), first_clip=first.clip)
    numbers = data.pop("numbers")
    html = render_to_string("shared/beside_numbers.html", {"numbers": numbers, "words": second.words})
    return JsonResponse(data | {"html": html, "cautions": numbers.cautions})


def _id(request: HttpRequest, name: str) -> UUID:
    try:
        return UUID(request.GET.get(name, ""))
    except ValueError:
        raise Http404 from None


@require_http_methods(["GET", "HEAD", "POST"])
@desk_view
def comparisons(request: HttpRequest, review: Review) -> HttpResponse:
    """What is kept for the answer; POST keeps one more, or changes one under its uid."""
    if request.method == "POST":
        keep_comparison(review, _body(request), by=me(request), now=timezone.now())
    return _list(request, review)


def _body(request: HttpRequest) -> dict[str, Any]:
    try:
        sent = json.loads(request.body[: MOST_BODY_BYTES + 1])
    except (ValueError, RecursionError):
        sent = None
    if not isinstance(sent, dict):
        raise RuleBroken("form", "The comparison arrived broken. Load the page again.")
    return sent


@require_POST
@desk_view
def drop(request: HttpRequest, review: Review, uid: UUID) -> HttpResponse:
    drop_comparison(review, uid, by=me(request))
    return _list(request, review)


def _list(request: HttpRequest, review: Review) -> HttpResponse:
    if not wants_json(request):
        return redirect("coach:desk", public_id=review.public_id)
    kept = kept_of(review, me(request))
    page = render(request, "coach/desk/kept_list.html", {"kept": kept, "review": review, "mine": True})
    return JsonResponse({"html": page.content.decode(), "kept": [one["data"] for one in kept if one["data"]]})
