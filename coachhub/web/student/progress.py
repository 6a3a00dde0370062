from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from coachhub.accounts.models import User
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.progress.domain.judged import Status, answered, judged_submissions
from coachhub.progress.domain.readable import numbers_behind as numbers_behind_signs
from coachhub.swings.enums import SignKey
from coachhub.videos.enums import SubmissionState, View
from coachhub.videos.models import Clip, Submission
from coachhub.web.progress.labels import trend_words
from coachhub.web.progress.reading import Reading
from coachhub.web.progress.student import progress_context
from coachhub.web.student.access import chosen_place, student_page
from coachhub.web.student.labels import miss_words
from coachhub.web.student.progressing import poster_link
from coachhub.web.who import person_of
from coachhub.web.words import plain

__all__ = ["confirmed_signs", "numbers_behind", "progress", "trend_words"]
SHOWN = 60


@dataclass(frozen=True)
class Sent:
    submission: Submission
    miss: str
    posters: list[tuple[str, str]]
    signs: list[str]


@require_GET
@student_page
def progress(request: HttpRequest, places: list[Membership]) -> HttpResponse:
    place = chosen_place(request, places)
    student = person_of(request)
    signs = confirmed_signs(student, place.camp)
    sent = [_sent(one, student, signs) for one in _submissions(student, place.camp)]
    reading = Reading(place, student, is_staff=False)
    context = {
        "place": place,
        "places": places,
        "reading": reading,
        "days": [(day, list(group)) for day, group in groupby(sent, lambda one: one.submission.range_day)],
        **progress_context(reading, request.GET, now=timezone.now()),
    }
    return render(request, "student/progress.html", context)


def numbers_behind(signs: dict[int, list[str]]) -> set[str]:
    """What the machine flagged and no coach confirmed is not the student's to read from a plot either."""
    return numbers_behind_signs(sign for found in signs.values() for sign in found)


def _submissions(student: User, camp: Camp) -> Iterable[Submission]:
    hidden = (SubmissionState.OPEN, SubmissionState.WITHDRAWN)
    own = Submission.objects.visible_to(student).filter(student=student, camp=camp).exclude(state__in=hidden)
    clips = Prefetch("clips", queryset=Clip.objects.order_by("number"))
    return own.select_related("review").prefetch_related(clips).order_by("-range_day", "-id")[:SHOWN]


def _sent(submission: Submission, student: User, signs: dict[int, list[str]]) -> Sent:
    posters = [
        (link, View(clip.view).label)
        for clip in submission.clips.all()
        if (link := poster_link(clip, student))
    ]
    labels = {str(value): str(label) for value, label in SignKey.choices}
    confirmed = [labels.get(sign, plain(sign)) for sign in signs.get(submission.pk, [])]
    return Sent(submission, miss_words(submission), posters, confirmed)


def confirmed_signs(student: User, camp: Camp) -> dict[int, list[str]]:
    """What a coach confirmed, by submission, once the answer is out: never a machine's word alone."""
    own = answered(camp, Cohort.objects.visible_to(student), own=student)
    return {
        judged.submission_id: [sign for sign, status in judged.signs.items() if status == Status.CONFIRMED]
        for judged in judged_submissions(camp, own)
    }
