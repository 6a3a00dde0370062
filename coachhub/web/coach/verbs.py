"""The buttons of the queue."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import require
from coachhub.feedback.domain.alerts import clear_alert
from coachhub.feedback.domain.reviews import defer_review, hand_over, release_review, settle_reply
from coachhub.feedback.forms import ClearAlertForm, DeferForm, HandOverForm
from coachhub.feedback.models import Review
from coachhub.videos.domain.clips import allow_refused_clip
from coachhub.videos.models import Clip
from coachhub.web.coach.access import checked, me, review_verb, student_place, way_back


@review_verb
def release(request: HttpRequest, review: Review) -> None:
    release_review(review, by=me(request), now=timezone.now())
    messages.success(request, f"Given back: {_named(review)}. What you wrote is kept.")


@review_verb
def defer(request: HttpRequest, review: Review) -> None:
    form, now = DeferForm(request.POST), timezone.now()
    checked(form)
    until = form.until(now)
    defer_review(review, until=until, by=me(request), now=now)
    when = f"{timezone.localtime(until):%a %H:%M}"
    messages.success(request, f"Put off until {when}: {_named(review)}. The promise runs on.")


@review_verb
def pass_on(request: HttpRequest, review: Review) -> None:
    fields = checked(HandOverForm(request.POST))
    other = User.objects.filter(public_id=fields["to"]).first()
    if other is None:
        raise RuleBroken("not_a_coach", "Choose a coach of this student's cohort.")
    hand_over(review, to=other, note=fields["note"], by=me(request), now=timezone.now())
    messages.success(request, f"{other.name} has it now: {_named(review)}.")


@review_verb
def no_answer_needed(request: HttpRequest, review: Review) -> None:
    settle_reply(review, by=me(request), now=timezone.now())
    messages.success(request, f"Read, no answer needed: {_named(review)}.")


@require_POST
@login_required
def allow_clip(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The coach looks at a clip that the machine refused; the machine is not always right."""
    seen = Clip.objects.visible_to(me(request)).select_related("submission__camp")
    clip = get_object_or_404(seen, public_id=public_id)
    require(me(request), "videos.allow_refused_clip", clip)
    try:
        allow_refused_clip(clip, by=me(request), now=timezone.now())
        messages.success(request, "The clip is in your queue now, without numbers.")
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    return redirect(way_back(request))


@require_POST
@login_required
def clear_pain_alert(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The coach has asked the student; the reason is kept with the name of who asked."""
    place = student_place(request, public_id)
    require(me(request), "feedback.review", place)
    try:
        clear_alert(place, **checked(ClearAlertForm(request.POST)), by=me(request), now=timezone.now())
        messages.success(
            request, f"The pain alert no longer stands, and {place.user.name} can read that in the thread."
        )
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    return redirect("coach:student", place.public_id)


def _named(review: Review) -> str:
    return review.submission.student.name
