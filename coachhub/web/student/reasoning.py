"""The student's side of a finding: answering a question, saying an idea back, and the history of what was thought."""

from __future__ import annotations

import uuid
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.finding import chain
from coachhub.feedback.domain.ideas import say_it_back
from coachhub.feedback.domain.questions import answer_question
from coachhub.feedback.domain.threads import thread_for
from coachhub.feedback.domain.versions import history
from coachhub.feedback.models import Question
from coachhub.progress.domain.course import NUMBER, course_of
from coachhub.web.course import in_words
from coachhub.web.student.access import chosen_place, own_answer, student_page
from coachhub.web.student.forms import QuestionForm
from coachhub.web.student.labels import root_words, submission_label
from coachhub.web.who import person_of


@require_POST
@student_page
def answer_a_question(request: HttpRequest, public_id: UUID, places: list[Membership]) -> HttpResponse:
    asked = Question.objects.filter(review__submission__student=person_of(request))
    question = get_object_or_404(
        asked.select_related("review__submission__camp", "review__submission__student"), public_id=public_id
    )
    thread = thread_for(person_of(request), question.review.submission.camp, now=timezone.now())
    form = QuestionForm(request.POST)
    if not form.is_valid():
        messages.error(request, form.first_error())
        return redirect("student:thread", thread.public_id)
    try:
        answer_question(
            question,
            by=person_of(request),
            text=form.cleaned_data["text"],
            chosen=form.cleaned_data["chosen"],
            now=timezone.now(),
            public_id=form.cleaned_data["token"],
        )
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(request, "Answered. Your coach goes on now.")
    return redirect("student:thread", thread.public_id)


@require_POST
@student_page
def say_back(request: HttpRequest, public_id: UUID, places: list[Membership]) -> HttpResponse:
    review = own_answer(person_of(request), public_id)
    try:
        token = UUID(request.POST.get("token", ""))
    except ValueError:
        token = uuid.uuid4()
    try:
        say_it_back(
            review, request.POST.get("text", ""), by=person_of(request), now=timezone.now(), public_id=token
        )
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(request, "Sent. Your coach reads whether it has come across.")
    return redirect("student:answer", review.public_id)


@require_GET
@student_page
def findings(request: HttpRequest, places: list[Membership]) -> HttpResponse:
    """What was thought after each range session, newest first, and what became of it."""
    place = chosen_place(request, places)
    student = person_of(request)
    course = course_of(student, place.camp)
    past = [
        {
            "version": each.version,
            "steps": chain(each.version),
            "root_kind": root_words(each.version.root_kind),
            "label": submission_label(each.version.review.submission),
            "fate": each.fate,
            "fate_label": each.fate_label,
            "said_at": each.said_at,
        }
        for each in reversed(history(student, place.camp))
    ]
    hidden = () if place.camp.students_see_trends else (NUMBER,)
    context = {"place": place, "places": places, "past": past, "course": in_words(course, without=hidden)}
    return render(request, "student/findings.html", context)
