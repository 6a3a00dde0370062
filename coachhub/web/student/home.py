from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from coachhub.accounts.domain.consent import NEEDED_TO_SEND, standing
from coachhub.accounts.domain.health import Advice, advice_for
from coachhub.accounts.models import User
from coachhub.camps.models import Membership
from coachhub.common.rules import can
from coachhub.feedback.domain import threads
from coachhub.feedback.domain.adherence import Assignment, assignments_of
from coachhub.feedback.domain.health import latest_intake
from coachhub.feedback.domain.questions import open_question
from coachhub.feedback.domain.ticks import standing_flags
from coachhub.feedback.enums import MessageKind, ReviewState
from coachhub.feedback.models import Message, Review, Thread
from coachhub.progress.domain.plan import plan_of
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission
from coachhub.web.hellos import hellos_for
from coachhub.web.student.access import chosen_place, student_page
from coachhub.web.student.labels import submission_label
from coachhub.web.student.progressing import ClipProgress, is_checking, progress_of, with_progress
from coachhub.web.student.turn import Facts, Sent, Turn, turns
from coachhub.web.who import person_of

# What is older is on the progress page.
SHOWN = 8


@require_GET
@student_page
def home(request: HttpRequest, places: list[Membership]) -> HttpResponse:
    place = chosen_place(request, places)
    submissions = _recent(person_of(request), place)
    thread = Thread.objects.filter(student=person_of(request), camp=place.camp).first()
    clips = {submission.pk: progress_of(submission, person_of(request)) for submission in submissions}
    may_send = may_send_swings(person_of(request), place)
    said = _turns(request, place, submissions, clips, thread, may_send=may_send)
    return render(
        request,
        "student/home.html",
        {
            "place": place,
            "places": places,
            "first": said[0],
            "sends_first": said[0].address.startswith(reverse("student:new")),
            # What waits for others stands in the list of what was sent.
            "others": [turn for turn in said[1:] if turn.whose == "yours"],
            "submissions": [(submission, clips[submission.pk]) for submission in submissions],
            "is_moving": any(is_checking(listed) for listed in clips.values()),
            "thread": thread,
            # Until the first swings are sent; later it stands in the plan.
            "hellos": [] if submissions else hellos_for(place.cohort, person_of(request)),
            "latest_answer": _latest_answer(submissions),
            "practising": _practising(person_of(request), place),
            "alert": _alert(place, submissions),
            "may_send": may_send,
            "tasks": [
                one for one in plan_of(place, now=timezone.now()) if one.state in ("open", "due", "late")
            ],
        },
    )


def may_send_swings(person: User, place: Membership) -> bool:
    """In the camp, and with the consent that sending needs; the page says above what is missing."""
    return can(person, "camps.send_swings", place.cohort) and standing(person) >= set(NEEDED_TO_SEND)


def _recent(user: User, place: Membership) -> list[Submission]:
    own = Submission.objects.visible_to(user).filter(student=user, camp=place.camp)
    return list(with_progress(own.exclude(state=SubmissionState.WITHDRAWN))[:SHOWN])


def _turns(
    request: HttpRequest,
    place: Membership,
    submissions: list[Submission],
    clips: dict[int, list[ClipProgress]],
    thread: Thread | None,
    *,
    may_send: bool,
) -> list[Turn]:
    news = _news(person_of(request), place, thread)
    talk = reverse("student:thread", args=[thread.public_id]) if thread else ""
    facts = Facts(
        submissions=tuple(_sent(submission, clips[submission.pk]) for submission in submissions),
        unread_answers=news.answers,
        question_address=talk if news.has_question else "",
        unread_address=talk if news.has_message else "",
        waiting_reply_address=talk if news.reply_waits else "",
        new_address=f"{reverse('student:new')}?camp={place.camp.public_id}",
        last_sent_at=max((s.sent_at for s in submissions if s.sent_at), default=None),
        may_send=may_send,
        now=timezone.now(),
    )
    return turns(facts)


@dataclass(frozen=True)
class News:
    answers: tuple[tuple[str, str], ...] = ()
    has_question: bool = False
    has_message: bool = False
    reply_waits: bool = False


def _news(user: User, place: Membership, thread: Thread | None) -> News:
    """Answers not opened yet, a question the coach waits for, other messages not read."""
    if thread is None:
        return News()
    unread = list(threads.unread(user).filter(thread=thread).select_related("review__submission"))
    return News(
        answers=tuple(_answer(message) for message in unread if _is_unopened_answer(message)),
        has_question=open_question(user, place.camp) is not None,
        has_message=any(message.kind != MessageKind.FEEDBACK for message in unread),
        reply_waits=Review.objects.visible_to(user)
        .filter(submission__student=user, submission__camp=place.camp, reply_waiting_since__isnull=False)
        .exists(),
    )


def _is_unopened_answer(message: Message) -> bool:
    review = message.review
    return message.kind == MessageKind.FEEDBACK and review is not None and review.opened_at is None


def _answer(message: Message) -> tuple[str, str]:
    assert message.review is not None
    address = reverse("student:answer", args=[message.review.public_id])
    return submission_label(message.review.submission), address


def _sent(submission: Submission, clips: list[ClipProgress]) -> Sent:
    review = getattr(submission, "review", None)
    return Sent(
        address=reverse("student:submission", args=[submission.public_id]),
        state=submission.state,
        label=submission_label(submission),
        has_clips=bool(clips),
        is_checking=is_checking(clips),
        due_at=review.due_at if review else None,
        is_being_reviewed=bool(review and review.state == ReviewState.CLAIMED),
    )


def _alert(place: Membership, submissions: list[Submission]) -> Advice | None:
    """Ticked in the intake, with the newest swings, or with swings that nobody has answered yet; and not cleared."""
    intake = latest_intake(place.user_id)
    open_ones = [one for one in submissions[1:] if one.state != SubmissionState.ANSWERED]
    return advice_for(
        standing_flags(place.user_id, place.camp.public_id, intake, [*submissions[:1], *open_ones])
    )


def _practising(person: User, place: Membership) -> Assignment | None:
    """The drill that is to be practised now."""
    given = assignments_of(person, place.camp, now=timezone.now())
    return next((one for one in given if one.is_current), None)


def _latest_answer(submissions: list[Submission]) -> object | None:
    reviews = [getattr(submission, "review", None) for submission in submissions]
    published = [review for review in reviews if review and review.state == ReviewState.PUBLISHED]
    return max(published, key=lambda review: review.published_at, default=None)
