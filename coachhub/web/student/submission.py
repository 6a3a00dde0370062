from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from coachhub.accounts.enums import URGENT_FLAGS, RedFlag
from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can, require
from coachhub.videos.domain.submissions import send_submission, withdraw_submission
from coachhub.videos.enums import MOST_CLIPS, Intent, SubmissionState, View
from coachhub.videos.models import Submission
from coachhub.web.student.access import own_submission, student_page
from coachhub.web.student.labels import miss_words, submission_label
from coachhub.web.student.pictures import pictures_of
from coachhub.web.student.progressing import failed_uploads, is_checking, progress_of, snapshot, with_progress
from coachhub.web.who import person_of


@require_GET
@student_page
def submission(request: HttpRequest, public_id: UUID, places: list[Membership]) -> HttpResponse:
    shown = _with_clips(request, public_id)
    clips, failed = progress_of(shown, person_of(request)), failed_uploads(shown)
    may_add = can(person_of(request), "videos.add_clip", shown)
    state = snapshot(shown, clips, failed)
    return render(
        request,
        "student/submission.html",
        {
            "submission": shown,
            "label": submission_label(shown),
            "clips": clips,
            "failed": failed,
            "snapshot": state,
            "is_checking": is_checking(clips),
            "may_add": may_add and len(clips) < MOST_CLIPS,
            "most": MOST_CLIPS,
            "is_open": shown.state == SubmissionState.OPEN,
            "may_withdraw": shown.state
            in (SubmissionState.OPEN, SubmissionState.SENT, SubmissionState.REFILM, SubmissionState.USABLE),
            "miss": miss_words(shown),
            "intents": [Intent(value).label for value in shown.intents if value in Intent.values],
            "flags": [RedFlag(value).label for value in shown.red_flags if value in RedFlag.values],
            "is_urgent": bool(URGENT_FLAGS & set(shown.red_flags)),
            "views": View.choices,
            "review": getattr(shown, "review", None),
            "pictures": pictures_of(shown, person_of(request)),
        },
    )


@require_GET
@student_page
def state(request: HttpRequest, public_id: UUID, places: list[Membership]) -> JsonResponse:
    shown = _with_clips(request, public_id)
    return JsonResponse(snapshot(shown, progress_of(shown, person_of(request)), failed_uploads(shown)))


@require_POST
@student_page
def send(request: HttpRequest, public_id: UUID, places: list[Membership]) -> HttpResponse:
    own = own_submission(person_of(request), public_id)
    require(person_of(request), "videos.send", own)
    return _act(request, own, send_submission, "Sent. You can follow here how it is checked.")


@require_POST
@student_page
def withdraw(request: HttpRequest, public_id: UUID, places: list[Membership]) -> HttpResponse:
    own = own_submission(person_of(request), public_id)
    require(person_of(request), "videos.withdraw", own)
    return _act(request, own, withdraw_submission, "Taken back. Nobody reviews it any more.")


def _act(request: HttpRequest, own: Submission, verb: Callable[..., Submission], done: str) -> HttpResponse:
    """The upload script asks for JSON, a form gets the page again."""
    wants_json = request.headers.get("Accept", "").startswith("application/json")
    try:
        verb(own, by=person_of(request), now=timezone.now())
    except RuleBroken as broken:
        if wants_json:
            return JsonResponse({"ok": False, "code": broken.code, "sentence": broken.sentence}, status=409)
        messages.error(request, broken.sentence)
        return redirect("student:submission", own.public_id)
    if wants_json:
        return JsonResponse({"ok": True, "sentence": done})
    messages.success(request, done)
    return redirect("student:submission", own.public_id)


def _with_clips(request: HttpRequest, public_id: UUID) -> Submission:
    own = Submission.objects.visible_to(person_of(request)).filter(student=person_of(request))
    return get_object_or_404(with_progress(own), public_id=public_id)
