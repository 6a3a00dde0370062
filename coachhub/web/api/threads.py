from __future__ import annotations

from collections import Counter
from uuid import UUID

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.utils import timezone
from ninja import Query, Router, Status

from coachhub.common.rules import require
from coachhub.feedback.domain.threads import in_order, post_message, unread
from coachhub.feedback.models import Message, Thread
from coachhub.web.api.camps import OF_ONE, REFUSALS
from coachhub.web.api.paging import Page
from coachhub.web.api.schemas import MessageIn, MessageOut, Problem, ThreadOut
from coachhub.web.who import person_of

router = Router(tags=["threads"])


@router.get(
    "/threads",
    response={200: list[ThreadOut], **REFUSALS},
    summary="Threads in sight",
    operation_id="threads",
)
def threads(request: HttpRequest, page: Query[Page]) -> list[ThreadOut]:
    person = person_of(request)
    new = Counter(unread(person).values_list("thread_id", flat=True))
    found = Thread.objects.visible_to(person).select_related("camp", "cohort", "student")
    return [_thread(one, new[one.pk]) for one in page.cut(found.order_by("-created_at", "-pk"))]


@router.get(
    "/threads/{thread_id}/messages",
    response={200: list[MessageOut], **OF_ONE},
    summary="What was said in a thread, in order; reading here does not mark it as read",
    operation_id="messages",
)
def messages(request: HttpRequest, thread_id: UUID, page: Query[Page]) -> list[MessageOut]:
    found = get_object_or_404(Thread.objects.visible_to(person_of(request)), public_id=thread_id)
    return [_message(one) for one in page.cut(in_order(found))]


@router.post(
    "/threads/{thread_id}/messages",
    response={201: MessageOut, **OF_ONE, 409: Problem},
    summary="Say something in a thread",
    operation_id="say",
)
def say(request: HttpRequest, thread_id: UUID, message: MessageIn) -> Status[MessageOut]:
    person = person_of(request)
    thread = get_object_or_404(
        Thread.objects.visible_to(person).select_related("camp", "cohort", "student"), public_id=thread_id
    )
    require(person, "feedback.write", thread)
    said = post_message(
        thread,
        by=person,
        text=message.text,
        now=timezone.now(),
        public_id=message.id,
    )
    return Status(201, _message(said))


def _thread(one: Thread, new: int) -> ThreadOut:
    return ThreadOut(
        id=one.public_id,
        camp=one.camp.public_id,
        cohort=one.cohort.public_id,
        student=one.student.public_id,
        student_name=one.student.name,
        unread=new,
    )


def _message(one: Message) -> MessageOut:
    return MessageOut(
        id=one.public_id,
        at=one.created_at,
        author=one.author.name,
        kind=one.kind,
        text=one.text,
        answer=one.review.public_id if one.review else None,
    )
