"""What a student practises: the one drill, how far the week is, what was noted; the buttons beside each drill."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_POST

from coachhub.camps.models import Camp, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.adherence import assignments_of
from coachhub.feedback.domain.junior_load import junior_load
from coachhub.feedback.domain.practice import Source, camp_of, log_practice
from coachhub.feedback.enums import PracticeKind
from coachhub.feedback.models import LessonDelivery, Practice
from coachhub.web.student.access import chosen_place, own_answer, student_page
from coachhub.web.student.forms import PracticeForm
from coachhub.web.who import person_of

SHOWN = 40
THANKS = {
    PracticeKind.DONE: "Practice noted.",
    PracticeKind.UNCLEAR: "Your coach will read that you don't understand it, and explain it another way.",
    PracticeKind.HURTS: (
        "Stop this drill. Your coach will read that it hurts. If the pain stays or is strong, see a clinician."
    ),
}


@require_GET
@student_page
def practice(request: HttpRequest, places: list[Membership]) -> HttpResponse:
    place, person, now = chosen_place(request, places), person_of(request), timezone.now()
    assignments = assignments_of(person, place.camp, now=now)
    context = {
        "place": place,
        "current": next((one for one in assignments if one.is_current), None),
        "earlier": [one for one in assignments if not one.is_current],
        "lessons": _lessons(person.pk, place.camp),
        "log": list(Practice.objects.of(person, place.camp).with_drills()[:SHOWN]),
        "load": junior_load(person, place.camp, now=now),
    }
    return render(request, "student/practice.html", context)


def _lessons(student: int, camp: Camp) -> list[LessonDelivery]:
    """Drills that came with a lesson."""
    rows = LessonDelivery.objects.filter(
        message__thread__student=student,
        message__thread__camp=camp,
        with_drill=True,
        lesson__drill__isnull=False,
    )
    return list(
        rows.select_related("lesson__drill__film", "message__thread").order_by("-message__created_at")
    )


@require_POST
@student_page
def practise(request: HttpRequest, public_id: UUID, places: list[Membership]) -> HttpResponse:
    answer = own_answer(person_of(request), public_id)
    _note(request, answer)
    return _back(request, "student:answer", public_id)


@require_POST
@student_page
def practise_lesson(request: HttpRequest, public_id: UUID, places: list[Membership]) -> HttpResponse:
    own = LessonDelivery.objects.filter(message__thread__student=person_of(request)).select_related(
        "lesson__drill", "message__thread__camp", "message__thread__student"
    )
    delivery = get_object_or_404(own, message__public_id=public_id)
    _note(request, delivery)
    return _back(request, "student:thread", delivery.message.thread.public_id)


def _note(request: HttpRequest, source: Source) -> None:
    form = PracticeForm(request.POST)
    if not form.is_valid():
        messages.error(request, form.first_error())
        return
    data = form.cleaned_data
    try:
        log_practice(
            source,
            data["kind"],
            by=person_of(request),
            on_day=data["on_day"] or timezone.localdate(),
            balls=data["balls"],
            note=data["note"],
            now=timezone.now(),
            public_id=data["token"],
        )
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
        return
    _warn_of_load(request, camp_of(source))
    level = messages.WARNING if data["kind"] == PracticeKind.HURTS else messages.SUCCESS
    messages.add_message(request, level, THANKS[PracticeKind(data["kind"])])


def _warn_of_load(request: HttpRequest, camp: Camp) -> None:
    """A minor practised more than the camp's bounds."""
    load = junior_load(person_of(request), camp, now=timezone.now())
    if load is not None and (load.too_many_balls or load.too_many_days):
        messages.warning(
            request,
            f"That is more than this camp's bounds for under 18s: at most {load.care.balls_per_day} balls a day, on "
            f"at most {load.care.days_per_week} days a week. Rest now.",
        )


def _back(request: HttpRequest, page: str, public_id: UUID) -> HttpResponse:
    """To the page the button stood on, if it is one of ours."""
    wanted = request.POST.get("back", "")
    if wanted.startswith("/") and url_has_allowed_host_and_scheme(wanted, allowed_hosts=None):
        return redirect(wanted)
    return redirect(page, public_id)
