"""The child's talk with the coaches, read by the guardian, who may write into it under the own name."""

from __future__ import annotations

import uuid
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.sights import note_sight
from coachhub.common.rules import can, require
from coachhub.feedback.domain import threads
from coachhub.feedback.domain.thread_line import thread_line
from coachhub.feedback.models import Thread
from coachhub.web.guardian.access import child_for, guardian_page
from coachhub.web.student.forms import ReplyForm
from coachhub.web.thread_pages import asked_before
from coachhub.web.who import person_of


def _thread(request: HttpRequest, public_id: UUID) -> Thread:
    seen = Thread.objects.visible_to(person_of(request)).select_related("student", "camp", "cohort")
    thread = get_object_or_404(seen, public_id=public_id)
    # Somebody who coaches and is also a parent reads here only what is the child's.
    child_for(request, thread.student.public_id)
    return thread


@require_safe
@guardian_page
def talk(request: HttpRequest, public_id: UUID) -> HttpResponse:
    thread, reader, now = _thread(request, public_id), person_of(request), timezone.now()
    line = thread_line(thread, reader, before=asked_before(request))
    threads.mark_read(thread, by=reader, now=now)
    note_sight(thread, by=reader, now=now, scope=thread.camp.public_id)
    context = {
        "thread": thread,
        "child": thread.student,
        "line": line,
        "may_write": can(reader, "feedback.write", thread),
        "reply": ReplyForm(initial={"token": uuid.uuid4()}),
    }
    return render(request, "guardian/talk.html", context)


@require_POST
@guardian_page
def write(request: HttpRequest, public_id: UUID) -> HttpResponse:
    thread = _thread(request, public_id)
    require(person_of(request), "feedback.write", thread)
    form = ReplyForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Write something first."))
        return redirect("guardian:thread", thread.public_id)
    try:
        threads.post_message(
            thread,
            by=person_of(request),
            text=form.cleaned_data["text"],
            now=timezone.now(),
            public_id=form.cleaned_data["token"],
        )
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(request, _("Sent. The child and the coaches read it, marked as from a guardian."))
    return redirect("guardian:thread", thread.public_id)
