from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from coachhub.accounts.domain.consent import NEEDED_TO_SEND, standing
from coachhub.accounts.domain.minors import is_minor
from coachhub.accounts.models import Intake, User
from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can
from coachhub.feedback.domain.finding import chain
from coachhub.feedback.domain.versions import answered_findings
from coachhub.videos.domain.answers import OLDEST_RANGE_DAYS, latest_day
from coachhub.videos.domain.submissions import amend_submission, last_submission, open_submission
from coachhub.videos.enums import SubmissionState
from coachhub.videos.forms import SubmissionForm, first_values, values_of
from coachhub.web.student.access import chosen_place, own_submission, student_page
from coachhub.web.who import person_of


@require_http_methods(["GET", "HEAD", "POST"])
@student_page
def new(request: HttpRequest, places: list[Membership]) -> HttpResponse:
    place = chosen_place(request, places)
    if not can(person_of(request), "camps.send_swings", place.cohort):
        return render(request, "student/cannot_send.html", {"place": place}, status=403)
    if not Intake.objects.filter(user=person_of(request)).exists():
        messages.info(request, "First a few questions about you. Your coach needs them to read your swing.")
        return redirect("account:intake")
    if not standing(person_of(request)) >= set(NEEDED_TO_SEND):
        minor = is_minor(person_of(request), now=timezone.now())
        messages.info(request, "A guardian has to agree first." if minor else "Say first what you agree to.")
        return redirect("guardian:mine" if minor else "account:consents")
    form = SubmissionForm(request.POST or None, initial=_first(person_of(request), place))
    if request.method == "POST" and form.is_valid():
        answer = _open(request, form, place)
        if answer is not None:
            return answer
    return _page(request, form, place, last=last_submission(person_of(request), place.camp))


@require_http_methods(["GET", "HEAD", "POST"])
@student_page
def edit(request: HttpRequest, public_id: UUID, places: list[Membership]) -> HttpResponse:
    submission = own_submission(person_of(request), public_id)
    if submission.state != SubmissionState.OPEN:
        messages.info(request, "This was sent already. Write to your coach if something in it is wrong.")
        return redirect("student:submission", public_id)
    form = SubmissionForm(request.POST or None, initial=values_of(submission))
    if request.method == "POST" and form.is_valid():
        try:
            amend_submission(submission, by=person_of(request), now=timezone.now(), **form.answers())
            return redirect("student:submission", public_id)
        except RuleBroken as broken:
            form.add_error(None, broken.sentence)
    return _page(request, form, next(p for p in places if p.camp_id == submission.camp_id), old=submission)


def _open(request: HttpRequest, form: SubmissionForm, place: Membership) -> HttpResponse | None:
    assert place.cohort is not None
    try:
        submission = open_submission(
            person_of(request),
            place.cohort,
            now=timezone.now(),
            public_id=form.cleaned_data["token"],
            **form.answers(),
        )
    except RuleBroken as broken:
        form.add_error("range_day" if broken.code.endswith("_day") else None, broken.sentence)
        return None
    return redirect("student:submission", submission.public_id)


def _first(user: User, place: Membership) -> dict[str, object]:
    last = last_submission(user, place.camp)
    return first_values(last, timezone.localdate()) | ({} if last else _from_intake(user))


def _from_intake(user: User) -> dict[str, object]:
    intake = Intake.objects.visible_to(user).filter(user=user).first()
    kept = ("miss_start", "miss_curve", "miss_strike", "miss_height", "intents", "intent_words")
    return {name: getattr(intake, name) for name in kept} if intake else {}


def _page(request: HttpRequest, form: SubmissionForm, place: Membership, **more: object) -> HttpResponse:
    latest = latest_day(place.camp, now=timezone.now())
    context = {
        "form": form,
        "place": place,
        "latest_day": latest,
        "oldest_days": OLDEST_RANGE_DAYS,
        "thought": chain(answered_findings(person_of(request), place.camp).last()),
    }
    return render(request, "student/new.html", context | more, status=200 if not form.errors else 422)
