"""A coach's hello to a cohort: its words, the recording beside them, and taking the recording away."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from coachhub.accounts.models import User
from coachhub.camps.domain.hellos import record_hello, unrecord_hello
from coachhub.camps.domain.plan import say_hello
from coachhub.camps.models import Cohort, Hello
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can, require
from coachhub.web.organiser.access import cohort_for
from coachhub.web.who import person_of

NO_WORDS = "Write down what you say, too: for those who can't hear it."


class HelloForm(forms.Form):
    words = forms.CharField(
        label="Your hello", max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 4})
    )
    recording = forms.FileField(
        label="A sound file or a film",
        required=False,
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": "audio/*,video/*,.m4a,.webm,.mp4,.mov"}),
    )


@dataclass(frozen=True)
class HelloCard:
    cohort: Cohort
    form: HelloForm
    hello: Hello | None


def hello_cards(person: User, cohorts: list[Cohort]) -> list[HelloCard]:
    """One for each cohort that the person greets as its coach."""
    rows = Hello.objects.filter(by=person, cohort__in=cohorts).prefetch_related("recordings")
    said = {hello.cohort_id: hello for hello in rows}
    return [
        _card(cohort, said.get(cohort.pk)) for cohort in cohorts if can(person, "camps.say_hello", cohort)
    ]


def other_hellos(person: User, cohorts: list[Cohort]) -> list[Hello]:
    """What the other coaches say, for whoever works in the camp too; one's own where it can't be changed any more."""
    spoken_to = [cohort for cohort in cohorts if can(person, "camps.say_hello", cohort)]
    rows = Hello.objects.visible_to(person).filter(cohort__in=cohorts, by__isnull=False)
    rows = rows.exclude(by=person, cohort__in=spoken_to)
    return list(rows.select_related("by", "cohort").prefetch_related("recordings"))


def _card(cohort: Cohort, hello: Hello | None) -> HelloCard:
    words = hello.words if hello else ""
    return HelloCard(cohort, HelloForm(initial={"words": words}, prefix=str(cohort.public_id)), hello)


@login_required
@require_POST
def hello(request: HttpRequest, public_id: UUID) -> HttpResponse:
    cohort = cohort_for(request, public_id, "camps.say_hello")
    form = HelloForm(request.POST, request.FILES, prefix=str(cohort.public_id))
    try:
        done = _kept(form, cohort, person_of(request))
    except RuleBroken as broken:
        return _refused(request, cohort, broken)
    messages.success(request, done)
    return _back(request, cohort)


def _kept(form: HelloForm, cohort: Cohort, by: User) -> str:
    """The words first: a recording that can't be kept must not take them along."""
    if not form.is_valid():
        raise RuleBroken("words", "That is too long: at most 2000 characters.")
    words, recording = form.cleaned_data["words"], form.cleaned_data["recording"]
    if recording is not None and not words.strip():
        raise RuleBroken("words", NO_WORDS)
    said = say_hello(cohort, words, by=by, now=timezone.now())
    if recording is None or said is None:
        return "Saved. Your students read it in their plan."
    record_hello(said, recording, by=by, now=timezone.now())
    return "Saved. The recording is being made ready; then your students find it in their plan."


@login_required
@require_POST
def unrecord(request: HttpRequest, public_id: UUID) -> HttpResponse:
    person = person_of(request)
    rows = Hello.objects.visible_to(person).select_related("cohort__camp")
    said = get_object_or_404(rows, public_id=public_id)
    if said.by_id != person.pk:
        require(person, "camps.manage_members", said.cohort)
    try:
        unrecord_hello(said, by=person, now=timezone.now())
    except RuleBroken as broken:
        return _refused(request, said.cohort, broken)
    messages.success(request, "The recording is deleted. The words stay.")
    return _back(request, said.cohort)


def _is_script(request: HttpRequest) -> bool:
    return request.headers.get("Accept", "").startswith("application/json")


def _back(request: HttpRequest, cohort: Cohort) -> HttpResponse:
    where = reverse("organiser:plan", args=[cohort.camp.public_id])
    return JsonResponse({"to": where}) if _is_script(request) else redirect(where)


def _refused(request: HttpRequest, cohort: Cohort, broken: RuleBroken) -> HttpResponse:
    if _is_script(request):
        return JsonResponse({"code": broken.code, "sentence": broken.sentence}, status=400)
    messages.error(request, broken.sentence)
    return _back(request, cohort)
