from __future__ import annotations

from itertools import groupby

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from coachhub.accounts.models import User
from coachhub.camps.models import Camp, Membership
from coachhub.swings.enums import Verdict
from coachhub.swings.models import SignJudgement
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Clip, Submission
from coachhub.web.student.access import chosen_place, person, student_page
from coachhub.web.student.labels import miss_words, submission_label

SHOWN = 60


@require_GET
@student_page
def progress(request: HttpRequest, places: list[Membership]) -> HttpResponse:
    place = chosen_place(request, places)
    student = person(request)
    submissions = _answered_or_waiting(student, place.camp)
    return render(
        request,
        "student/progress.html",
        {
            "place": place,
            "places": places,
            "days": [
                (day, [(one, submission_label(one), miss_words(one)) for one in group])
                for day, group in groupby(submissions, key=lambda one: one.range_day)
            ],
            "signs": _confirmed_signs(student, place.camp),
        },
    )


def _answered_or_waiting(student: User, camp: Camp) -> list[Submission]:
    hidden = (SubmissionState.OPEN, SubmissionState.WITHDRAWN)
    own = Submission.objects.visible_to(student).filter(student=student, camp=camp).exclude(state__in=hidden)
    clips = Prefetch("clips", queryset=Clip.objects.order_by("number"))
    return list(own.select_related("review").prefetch_related(clips).order_by("-range_day", "-id")[:SHOWN])


def _confirmed_signs(student: User, camp: Camp) -> list[SignJudgement]:
    """What a coach agreed with, once the answer is out: never a machine's word alone."""
    return list(
        SignJudgement.objects.filter(
            verdict=Verdict.AGREE,
            swing__clip__submission__student=student,
            swing__clip__submission__camp=camp,
            swing__clip__submission__review__state="published",
        )
        .select_related("swing__clip__submission")
        .order_by("-swing__clip__submission__range_day", "sign")
    )
