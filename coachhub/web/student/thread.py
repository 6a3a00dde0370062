from __future__ import annotations

import uuid
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.questions import open_question
from coachhub.feedback.domain.thread_line import thread_line
from coachhub.feedback.domain.threads import mark_read, post_message
from coachhub.feedback.models import Question, Review, Thread
from coachhub.web.student.access import own_thread, student_page
from coachhub.web.student.forms import QuestionForm, ReplyForm
from coachhub.web.thread_pages import asked_before
from coachhub.web.who import person_of


@require_GET
@student_page
def thread(request: HttpRequest, public_id: UUID, places: list[Membership]) -> HttpResponse:
    shown = own_thread(person_of(request), public_id)
    return _page(request, shown, ReplyForm(initial={"token": uuid.uuid4()}))


@require_POST
@student_page
def reply(request: HttpRequest, public_id: UUID, places: list[Membership]) -> HttpResponse:
    shown = own_thread(person_of(request), public_id)
    form = ReplyForm(request.POST)
    if form.is_valid():
        try:
            post_message(
                shown,
                by=person_of(request),
                text=form.cleaned_data["text"],
                review=_about(request, shown),
                now=timezone.now(),
                public_id=form.cleaned_data["token"],
            )
            return redirect("student:thread", public_id)
        except RuleBroken as broken:
            form.add_error("text", broken.sentence)
    return _page(request, shown, form, status=422)


def _page(request: HttpRequest, shown: Thread, form: ReplyForm, status: int = 200) -> HttpResponse:
    line = thread_line(shown, person_of(request), before=asked_before(request))
    mark_read(shown, by=person_of(request), now=timezone.now())
    question = _open_question(request, shown)
    context = {
        "thread": shown,
        "line": line,
        "reply": form,
        "question": question,
        "question_form": QuestionForm(initial={"token": uuid.uuid4()}) if question else None,
    }
    return render(request, "student/thread.html", context, status=status)


def _open_question(request: HttpRequest, shown: Thread) -> Question | None:
    """The question that the coach waits for."""
    asked = open_question(person_of(request), shown.camp)
    return Question.objects.filter(asked=asked, answer=None).first() if asked else None


def _about(request: HttpRequest, shown: Thread) -> Review | None:
    """The answer that the reply was written under, if it is one of this thread's student."""
    wanted = request.POST.get("about", "")
    try:
        public_id = UUID(wanted)
    except ValueError:
        return None
    own = Review.objects.visible_to(person_of(request))
    return own.filter(public_id=public_id, submission__student_id=shown.student_id).first()
