"""The buttons of the queue."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest
from django.utils import timezone

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.reviews import defer_review, hand_over, release_review, settle_reply
from coachhub.feedback.forms import DeferForm, HandOverForm
from coachhub.feedback.models import Review
from coachhub.web.coach.access import checked, me, review_verb


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


def _named(review: Review) -> str:
    return review.submission.student.name
