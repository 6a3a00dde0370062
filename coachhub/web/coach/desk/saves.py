"""What the desk sends: drafts, drawings, verdicts, corrections, and the publishing itself."""

from __future__ import annotations

import json
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.claims import refuse_unless_held
from coachhub.feedback.domain.library import Suggestions, suggest
from coachhub.feedback.domain.marks import save_marks
from coachhub.feedback.domain.reviews import ask_student, claim_review, publish_review, save_draft
from coachhub.feedback.domain.revisions import Attempt
from coachhub.feedback.models import Review
from coachhub.swings.domain.corrections import correct_event, drop_correction
from coachhub.swings.domain.joints import correct_joint, drop_joint_corrections
from coachhub.swings.domain.judgements import judge_sign
from coachhub.swings.enums import Verdict
from coachhub.swings.models import SignJudgement, Swing
from coachhub.web.coach.desk.drills import drill_facts
from coachhub.web.coach.desk.following import next_review
from coachhub.web.coach.desk.forms import AnswerForm, CorrectForm, JointForm, JudgeForm
from coachhub.web.coach.desk.lookup import desk_view, first_error, me, swing_of, wants_json
from coachhub.web.coach.desk.readouts import card_of
from coachhub.web.player import clips_to_show, hand_of, player_of

MOST_LOST = 50
MOST_BODY_BYTES = 2 * 1024 * 1024


@require_POST
@desk_view
def take(request: HttpRequest, review: Review) -> HttpResponse:
    claim_review(review, by=me(request), now=timezone.now())
    return redirect("coach:desk", public_id=review.public_id)


@require_POST
@desk_view
def answer(request: HttpRequest, review: Review) -> HttpResponse:
    """Keep the draft; ``do=check`` goes on to the last look before publishing."""
    before = suggest(review)
    form = AnswerForm(request.POST, review=review, suggestions=before)
    if not form.is_valid():
        raise first_error(form)
    saved = save_draft(
        review,
        form.domain_fields(),
        revision=form.cleaned_data["revision"],
        by=me(request),
        now=timezone.now(),
        attempt=_attempt(request),
    )
    if wants_json(request):
        return JsonResponse({"revision": saved.revision, **_drills(request, saved, before)})
    if request.POST.get("do") == "check":
        return redirect("coach:desk-check", public_id=review.public_id)
    messages.success(request, "Saved as a draft.")
    return redirect("coach:desk", public_id=review.public_id)


def _drills(request: HttpRequest, review: Review, before: Suggestions) -> dict[str, str]:
    """A root that was chosen or dropped changes what may be offered; the page then shows the drills anew."""
    now = suggest(review)
    if now == before:
        return {}
    form = AnswerForm(review=review, suggestions=now)
    context = {"form": form, "suggestions": now, "drill_facts": drill_facts(now)}
    return {"drills": render_to_string("coach/desk/_finding_drills.html", context, request)}


@require_POST
@desk_view
def marks(request: HttpRequest, review: Review) -> HttpResponse:
    sent = _body(request)
    saved = save_marks(
        review,
        sent["marks"],
        sent["moments"],
        revision=sent["revision"],
        by=me(request),
        now=timezone.now(),
        attempt=_attempt(request),
    )
    return JsonResponse({"revision": saved.revision})


def _attempt(request: HttpRequest) -> Attempt:
    """The save's own id, and those of the tab's saves that were never answered; nonsense counts as none."""

    def ids(name: str) -> tuple[UUID, ...]:
        words = request.headers.get(name, "").split(",")[:MOST_LOST]
        return tuple(found for word in words if (found := _uuid(word.strip())) is not None)

    return Attempt(next(iter(ids("X-Save")), None), ids("X-Saves-Lost"))


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None


def _body(request: HttpRequest) -> dict[str, Any]:
    try:
        sent = json.loads(request.body[: MOST_BODY_BYTES + 1])
    except (ValueError, RecursionError):
        sent = None
    lists = isinstance(sent, dict) and all(
        isinstance(sent.get(name), list) and all(isinstance(item, dict) for item in sent[name])
        for name in ("marks", "moments")
    )
    if not lists or not isinstance(sent.get("revision"), int) or sent["revision"] < 0:
        raise RuleBroken("form", "The drawings arrived broken. Load the page again; they are kept here.")
    return sent  # type: ignore[no-any-return]


@require_POST
@desk_view
def judge(request: HttpRequest, review: Review) -> HttpResponse:
    form = JudgeForm(request.POST)
    if not form.is_valid():
        raise first_error(form)
    refuse_unless_held(review, me(request))
    swing = swing_of(review, form.cleaned_data["swing"])
    judge_sign(
        swing,
        form.cleaned_data["sign"],
        form.cleaned_data["verdict"],
        by=me(request),
        at_s=_within(swing, form.cleaned_data["at_s"]),
        now=timezone.now(),
    )
    return _card(request, review, swing)


def _within(swing: Swing, at_s: float | None) -> float | None:
    """A verdict given while another part of the clip is shown is a verdict without a frame."""
    return at_s if at_s is not None and swing.start_s <= at_s <= swing.end_s else None


@require_POST
@desk_view
def correct(request: HttpRequest, review: Review) -> HttpResponse:
    form = CorrectForm(request.POST)
    if not form.is_valid():
        raise first_error(form)
    refuse_unless_held(review, me(request))
    swing, event = swing_of(review, form.cleaned_data["swing"]), form.cleaned_data["event"]
    if form.is_back:
        drop_correction(swing, event, by=me(request), now=timezone.now())
    else:
        correct_event(swing, event, form.cleaned_data["t_s"], by=me(request), now=timezone.now())
    return _card(request, review, swing)


@require_POST
@desk_view
def joint(request: HttpRequest, review: Review) -> HttpResponse:
    form = JointForm(request.POST)
    if not form.is_valid():
        raise first_error(form)
    refuse_unless_held(review, me(request))
    data = form.cleaned_data
    swing = swing_of(review, data["swing"])
    if data["do"] == "back":
        drop_joint_corrections(swing, data["joint"], by=me(request), now=timezone.now())
    else:
        place = (data["x"], data["y"])
        correct_joint(swing, data["joint"], data["t_us"], place, by=me(request), now=timezone.now())
    return _card(request, review, swing)


def _card(request: HttpRequest, review: Review, swing: Swing) -> HttpResponse:
    """The script swaps the swing's card; a person gets the page again."""
    if not wants_json(request):
        messages.success(request, "Noted.")
        return redirect(f"{_desk_of(review)}#card-{swing.public_id}")
    user = me(request)
    clips = clips_to_show(review.submission, user)
    clip = next(clip for clip in clips if clip.pk == swing.clip_id)
    fresh = next(one for one in clip.swings.all() if one.pk == swing.pk)
    judged = list(SignJudgement.objects.filter(swing=swing).select_related("by").order_by("id"))
    card = card_of(clip, fresh, judged, user.pk, clip.swings.all().count())
    context = {"card": card, "review": review, "mine": True, "verdicts": Verdict.choices}
    page = render(request, "coach/desk/card.html", context)
    player = player_of([clip], user, hand=hand_of(review.submission.student_id))
    shown = next(one for one in player["swings"] if one["id"] == str(swing.public_id))
    return JsonResponse({"html": page.content.decode(), "events": shown["events"], "tracks": shown["tracks"]})


@require_POST
@desk_view
def publish(request: HttpRequest, review: Review) -> HttpResponse:
    try:
        revision = int(request.POST.get("revision", ""))
    except ValueError:
        raise RuleBroken("form", "Look at the answer again before publishing.") from None
    publish_review(review, by=me(request), now=timezone.now(), revision=revision)
    messages.success(request, f"Published. {review.submission.student.name} gets a mail.")
    following = next_review(me(request), timezone.now()) if request.POST.get("then") == "next" else None
    if following is not None:
        claim_review(following, by=me(request), now=timezone.now())
        return redirect("coach:desk", public_id=following.public_id)
    return redirect("coach:queue")


@require_POST
@desk_view
def ask(request: HttpRequest, review: Review) -> HttpResponse:
    text, node = request.POST.get("text", ""), request.POST.get("node", "")
    ask_student(review, text, by=me(request), node=node, now=timezone.now())
    messages.success(request, "Asked. The promise stands still until the student answers.")
    return redirect("coach:queue")


def _desk_of(review: Review) -> str:
    return reverse("coach:desk", kwargs={"public_id": review.public_id})
