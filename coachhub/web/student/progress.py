from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from analysis.signs.rules import RULES
from coachhub.accounts.models import User
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.progress.domain.judged import Status, answered, judged_submissions
from coachhub.progress.domain.trends import Trend, metric_trends
from coachhub.progress.plots import trend_svg
from coachhub.progress.words import left_out, sentence
from coachhub.swings.enums import SignKey
from coachhub.videos.enums import ClubClass, SubmissionState, View
from coachhub.videos.models import Clip, Submission
from coachhub.web.student.access import chosen_place, student_page
from coachhub.web.student.labels import miss_words
from coachhub.web.student.progressing import poster_link
from coachhub.web.who import person_of
from coachhub.web.words import metric_label, plain

SHOWN = 60


@dataclass(frozen=True)
class Sent:
    submission: Submission
    miss: str
    posters: list[tuple[str, str]]
    signs: list[str]


@dataclass(frozen=True)
class Choice:
    value: str
    words: str


@require_GET
@student_page
def progress(request: HttpRequest, places: list[Membership]) -> HttpResponse:
    place = chosen_place(request, places)
    student = person_of(request)
    signs = confirmed_signs(student, place.camp)
    sent = [_sent(one, student, signs) for one in _submissions(student, place.camp)]
    context = {
        "place": place,
        "places": places,
        "days": [(day, list(group)) for day, group in groupby(sent, lambda one: one.submission.range_day)],
    }
    if place.camp.students_see_trends:
        trends = metric_trends(student, place.camp, numbers_behind(signs))
        context |= _trend_context(trends, request.GET.get("number", ""))
    return render(request, "student/progress.html", context)


def numbers_behind(signs: dict[int, list[str]]) -> set[str]:
    """What the machine flagged and no coach confirmed is not the student's to read from a plot either."""
    confirmed = {sign for found in signs.values() for sign in found}
    return {term.metric for rule in RULES if rule.key in confirmed for term in rule.terms}


def _trend_context(trends: list[Trend], wanted: str) -> dict[str, object]:
    chosen = next((trend for trend in trends if _key(trend) == wanted), trends[0] if trends else None)
    choices = sorted(
        (Choice(_key(trend), trend_words(trend)) for trend in trends), key=lambda each: each.words
    )
    if chosen is None:
        return {"choices": []}
    return {
        "choices": choices,
        "chosen": _key(chosen),
        "trend": chosen,
        "title": trend_words(chosen),
        "plot": trend_svg(chosen, title=trend_words(chosen)),
        "verdict": sentence(chosen),
        "left_out": left_out(chosen),
    }


def _key(trend: Trend) -> str:
    return f"{trend.metric}.{trend.view}.{trend.club_class}"


def trend_words(trend: Trend) -> str:
    view = View(trend.view).label if trend.view in View.values else plain(trend.view)
    club = ClubClass(trend.club_class).label if trend.club_class in ClubClass.values else trend.club_class
    return f"{metric_label(trend.metric).capitalize()}: {club}, {view}"


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
