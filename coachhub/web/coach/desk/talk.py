"""Talk-throughs on the desk: listed, put together, put into writing, filmed, removed."""

from __future__ import annotations

import json
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.talk_films import order_film
from coachhub.feedback.domain.talks import caption_talk, keep_talk, remove_talk
from coachhub.feedback.models import Review, TalkThrough
from coachhub.web.coach.desk.lookup import desk_view, me, wants_json
from coachhub.web.coach.desk.page import is_mine
from coachhub.web.talks import is_waiting, talks_of

MOST_BODY_BYTES = 2 * 1024 * 1024
DONE = {"caption": "Words kept.", "film": "The film is being made.", "remove": "Deleted."}


@require_http_methods(["GET", "HEAD", "POST"])
@desk_view
def talks(request: HttpRequest, review: Review) -> HttpResponse:
    if request.method == "POST":
        talk_id, script = _sent(request)
        keep_talk(review, talk_id, script, by=me(request), now=timezone.now())
    return _list(request, review)


def _sent(request: HttpRequest) -> tuple[UUID, Any]:
    try:
        sent = json.loads(request.body[: MOST_BODY_BYTES + 1])
        return UUID(str(sent["talk"])), sent["script"]
    except (ValueError, RecursionError, KeyError, TypeError):
        raise RuleBroken(
            "script", "This talk arrived broken. It is still on your device; send it again."
        ) from None


@require_POST
@desk_view
def talk(request: HttpRequest, review: Review, talk_id: UUID) -> HttpResponse:
    found = get_object_or_404(TalkThrough, review=review, public_id=talk_id)
    what, now = request.POST.get("do", ""), timezone.now()
    if what == "remove":
        remove_talk(found, by=me(request), now=now)
    elif what == "film":
        order_film(found, by=me(request), now=now)
    else:
        what = "caption"
        caption_talk(found, request.POST.get("caption", ""), by=me(request), now=now)
    if not wants_json(request):
        messages.success(request, DONE[what])
    return _list(request, review)


def _list(request: HttpRequest, review: Review) -> HttpResponse:
    if not wants_json(request):
        return redirect("coach:desk", public_id=review.public_id)
    listed = talks_of(review, me(request))
    context = {"talks": listed, "review": review, "mine": is_mine(review, me(request))}
    page = render(request, "coach/desk/talk_list.html", context)
    return JsonResponse({"html": page.content.decode(), "waiting": is_waiting(listed)})
