"""Reading and writing in a student's thread."""

from __future__ import annotations

import uuid
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can, require
from coachhub.feedback.domain.ideas import old_idea_again
from coachhub.feedback.domain.thread_line import thread_line
from coachhub.feedback.domain.threads import mark_read, post_message, thread_for
from coachhub.feedback.forms import WriteForm
from coachhub.feedback.models import Review, Thread
from coachhub.web.coach.access import checked, me, student_place
from coachhub.web.thread_pages import asked_before


@require_safe
@login_required
def thread(request: HttpRequest, public_id: UUID) -> HttpResponse:
    shown = _thread(request, public_id)
    return _page(request, shown, WriteForm(initial={"token": uuid.uuid4()}))


@require_safe
@login_required
def reply_to(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """From a review to the thread that its student's word stands in."""
    seen = Review.objects.visible_to(me(request)).select_related("submission")
    review = get_object_or_404(seen, public_id=public_id)
    require(me(request), "feedback.see_private_note", review)
    shown = get_object_or_404(
        Thread.objects.visible_to(me(request)),
        student=review.submission.student_id,
        camp=review.submission.camp_id,
    )
    return redirect("coach:thread", shown.public_id)


@require_POST
@login_required
def write(request: HttpRequest, public_id: UUID) -> HttpResponse:
    shown = _thread(request, public_id)
    require(me(request), "feedback.write", shown)
    form = WriteForm(request.POST)
    if form.is_valid():
        try:
            _post(request, shown, form)
            return redirect("coach:thread", public_id)
        except RuleBroken as broken:
            form.add_error("text", broken.sentence)
    return _page(request, shown, form, status=422)


@require_POST
@login_required
def write_first(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """From the student's page: the thread is made if nobody has written yet."""
    place = student_place(request, public_id)
    require(me(request), "feedback.write", place)
    form = WriteForm(request.POST)
    try:
        checked(form)
        shown = thread_for(place.user, place.camp, now=timezone.now())
        _post(request, shown, form)
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
        return redirect("coach:student", public_id)
    return redirect("coach:thread", shown.public_id)


def _post(request: HttpRequest, shown: Thread, form: WriteForm) -> None:
    post_message(
        shown,
        by=me(request),
        text=form.cleaned_data["text"],
        now=timezone.now(),
        public_id=form.cleaned_data["token"],
    )


def _thread(request: HttpRequest, public_id: UUID) -> Thread:
    """Threads of students this person answers for; a student's own is seen, but read on the student's page."""
    seen = Thread.objects.visible_to(me(request)).select_related("student", "cohort", "camp")
    shown = get_object_or_404(seen, public_id=public_id)
    require(me(request), "camps.see_names", shown)
    return shown


def _page(request: HttpRequest, shown: Thread, form: WriteForm, status: int = 200) -> HttpResponse:
    line = thread_line(shown, me(request), before=asked_before(request))
    may_write = can(me(request), "feedback.write", shown)
    mark_read(shown, by=me(request), now=timezone.now())
    context = {
        "thread": shown,
        "line": line,
        "form": form,
        "may_write": may_write,
        "old_idea_messages": _old_idea_messages(shown),
        "waiting": _waiting(shown) if may_write else None,
        "place": Membership.objects.students().filter(user=shown.student, camp=shown.camp).first(),
    }
    return render(request, "coach/thread.html", context, status=status)


def _waiting(shown: Thread) -> Review | None:
    """The review that carries the unanswered reply."""
    return Review.objects.filter(
        submission__student=shown.student_id,
        submission__camp=shown.camp_id,
        reply_waiting_since__isnull=False,
    ).first()


def _old_idea_messages(shown: Thread) -> frozenset[int]:
    """Answers that show the idea of the finding before, of every review that asked."""
    asked = Review.objects.filter(
        submission__student=shown.student_id, submission__camp=shown.camp_id, questions__answer__isnull=False
    )
    found = (old_idea_again(review) for review in asked.distinct().select_related("submission"))
    return frozenset(message for each in found if each for message in each.messages)
