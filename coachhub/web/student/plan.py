"""The camp's plan as a student sees it, and its last day."""

from __future__ import annotations

from datetime import date, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.accounts.domain.health import advice_for
from coachhub.camps.domain.weeks import local_day
from coachhub.camps.models import Membership
from coachhub.feedback.domain.health import latest_intake
from coachhub.feedback.domain.ticks import standing_flags
from coachhub.feedback.enums import PracticeKind, ReviewState
from coachhub.feedback.models import Review
from coachhub.progress.domain.plan import arrival_of, earlier_places
from coachhub.videos.models import Submission
from coachhub.web.hellos import hellos_for
from coachhub.web.progress.pairs import pairs_for
from coachhub.web.student.access import chosen_place, student_page
from coachhub.web.student.answer import sore_sites
from coachhub.web.student.home import may_send_swings
from coachhub.web.who import person_of

WEEKS = 6


@require_safe
@student_page
def plan(request: HttpRequest, places: list[Membership]) -> HttpResponse:
    place = chosen_place(request, places)
    person = person_of(request)
    arrival = arrival_of(place, now=timezone.now())
    context = {
        "place": place,
        "arrival": arrival,
        "tasks": arrival.plan,
        "hellos": hellos_for(place.cohort, person),
        "may_send": may_send_swings(person, place),
    }
    return render(request, "student/plan.html", context)


@require_safe
@student_page
def last_day(request: HttpRequest, places: list[Membership]) -> HttpResponse:
    place = chosen_place(request, places)
    person, camp = person_of(request), place.camp
    now = timezone.now()
    answer = _last_answer(place)
    own = Submission.objects.filter(student=person, camp=camp).order_by("-sent_at", "-pk")
    context = {
        "place": place,
        "is_over": local_day(camp, now) > camp.ends_on,
        "pairs": pairs_for(place, person),
        "answer": answer,
        "drill": answer.drill if answer else None,
        "sore_sites": sore_sites(answer, person) if answer else [],
        "is_stopped": _hurts(answer),
        "alert": advice_for(
            standing_flags(person.pk, camp.public_id, latest_intake(person.pk), list(own[:1]))
        ),
        "weeks": _weeks(max(camp.ends_on, local_day(camp, now))),
        "goes_on": camp.ends_on + timedelta(days=camp.retention_days),
        "earlier": [one for one in earlier_places(person, camp) if one in places],
    }
    return render(request, "student/last_day.html", context)


def _last_answer(place: Membership) -> Review | None:
    rows = Review.objects.visible_to(place.user).filter(
        submission__student=place.user, submission__camp=place.camp, state=ReviewState.PUBLISHED
    )
    return rows.exclude(priority="").select_related("drill").order_by("-published_at").first()


def _hurts(answer: Review | None) -> bool:
    """A drill that hurts is nobody's plan for six weeks."""
    return answer is not None and answer.practice.filter(kind=PracticeKind.HURTS).exists()


def _weeks(after: date) -> list[tuple[date, str]]:
    """Less and less from the drill, more and more from the game (common practice, no study)."""
    words = (
        "The drill as given, slowly, on three days.",
        "The drill as given, on three days. Film three swings and look only at the one thing.",
        "The drill, then ten swings with the cue, on three days.",
        "Half as much drill; the cue with two clubs. Film three swings with the club of the first day.",
        "The cue on the course: one thought before the swing, none in it.",
        "As in week five. Film three swings from the same view and set them beside the first ones.",
    )
    return [(after + timedelta(days=1 + 7 * k), said) for k, said in enumerate(words)]
