"""Voice notes: listed, added, put into writing, removed. Scripts get the list as HTML, people the page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from coachhub.feedback.domain.explanations import forget_explanation, keep_explanation, put_in
from coachhub.feedback.domain.voice import add_voice_note, caption_voice_note, remove_voice_note
from coachhub.feedback.models import Explanation, Review, VoiceNote
from coachhub.swings.domain.whole_clip import swings_by_id
from coachhub.web.coach.desk.forms import PlaceForm, VoiceForm
from coachhub.web.coach.desk.lookup import desk_view, first_error, me, wants_json
from coachhub.web.coach.desk.page import explanations_of, is_mine, voice_notes


@require_http_methods(["GET", "HEAD", "POST"])
@desk_view
def voice(request: HttpRequest, review: Review) -> HttpResponse:
    if request.method == "POST":
        _add(request, review)
        if not wants_json(request):
            messages.success(request, "The recording is kept. It can be heard here in a moment.")
    return _list(request, review)


def _add(request: HttpRequest, review: Review) -> None:
    form = VoiceForm(request.POST, request.FILES)
    if not form.is_valid():
        raise first_error(form)
    data = form.cleaned_data
    add_voice_note(
        review,
        data["recording"],
        **_where(review, data),
        caption=data["caption"],
        by=me(request),
        now=timezone.now(),
    )


def _where(review: Review, data: Mapping[str, Any]) -> dict[str, Any]:
    swings = swings_by_id(review.submission, {data["swing"]} - {None}, now=timezone.now())
    return {"swing": swings.get(data["swing"]), "at_us": data["at_us"] or 0}


@require_POST
@desk_view
def explanation(request: HttpRequest, review: Review, explanation_id: UUID) -> HttpResponse:
    """A kept explanation: put into this answer, or forgotten."""
    found = get_object_or_404(Explanation.objects.visible_to(me(request)), public_id=explanation_id)
    if request.POST.get("do") == "forget":
        forget_explanation(found, by=me(request), now=timezone.now())
        return _list(request, review)
    form = PlaceForm(request.POST)
    if not form.is_valid():
        raise first_error(form)
    put_in(found, review, **_where(review, form.cleaned_data), by=me(request), now=timezone.now())
    return _list(request, review)


@require_POST
@desk_view
def note(request: HttpRequest, review: Review, note_id: UUID) -> HttpResponse:
    found = get_object_or_404(VoiceNote, review=review, public_id=note_id)
    if request.POST.get("do") == "remove":
        remove_voice_note(found, by=me(request), now=timezone.now())
    elif request.POST.get("do") == "keep":
        title = request.POST.get("title", "")
        keep_explanation(found, title, caption=found.caption, by=me(request), now=timezone.now())
    else:
        caption_voice_note(found, request.POST.get("caption", ""), by=me(request), now=timezone.now())
    return _list(request, review)


def _list(request: HttpRequest, review: Review) -> HttpResponse:
    if not wants_json(request):
        return redirect("coach:desk", public_id=review.public_id)
    notes = voice_notes(review, me(request))
    context = {"review": review, "voice": notes, "mine": is_mine(review, me(request))}
    context["explanations"] = explanations_of(me(request))
    page = render(request, "coach/desk/voice_list.html", context)
    return JsonResponse(
        {
            "html": page.content.decode(),
            "waiting": any(one["state"] in ("waiting", "running") for one in notes),
        }
    )
