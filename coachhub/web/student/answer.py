from __future__ import annotations

import uuid
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from coachhub.accounts.enums import PainSite
from coachhub.accounts.models import Intake, User
from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.finding import chain
from coachhub.feedback.domain.reviews import mark_opened
from coachhub.feedback.domain.talk_films import order_film
from coachhub.feedback.domain.threads import mark_read, thread_for
from coachhub.feedback.models import Review, TalkThrough
from coachhub.web.beside import replay_with_kept
from coachhub.web.ideas import chain_stills, idea_of
from coachhub.web.student.access import own_answer, student_page
from coachhub.web.student.forms import ReplyForm
from coachhub.web.student.labels import miss_words, root_words, submission_label
from coachhub.web.student.pictures import pictures_of_answer
from coachhub.web.talks import talks_of
from coachhub.web.who import person_of


@require_GET
@student_page
def answer(request: HttpRequest, public_id: UUID, places: list[Membership]) -> HttpResponse:
    review = own_answer(person_of(request), public_id)
    now = timezone.now()
    mark_opened(review, by=person_of(request), now=now)
    submission, finding = review.submission, getattr(review, "finding", None)
    thread = thread_for(submission.student, submission.camp, now=now)
    mark_read(thread, by=person_of(request), now=now)
    return render(
        request,
        "student/answer.html",
        {
            "review": review,
            "finding": finding,
            # A cause chosen from the map without own words is said in the map's words.
            "steps": chain(finding),
            "stills": chain_stills(finding, review, person_of(request)),
            "idea": idea_of(review, person_of(request)),
            "say_backs": list(review.say_backs.select_related("message")),
            "say_back_token": uuid.uuid4(),
            "root_kind": root_words(finding.root_kind) if finding else "",
            "submission": submission,
            "label": submission_label(submission),
            "miss": miss_words(submission),
            "pictures": pictures_of_answer(review, person_of(request)),
            "replay": replay_with_kept(review, person_of(request)),
            "talks": talks_of(review, person_of(request), only_ready=True),
            "film_url": "student:talk-film",
            "thread": thread,
            "reply": ReplyForm(initial={"token": uuid.uuid4()}),
            "sore_sites": sore_sites(review, person_of(request)),
        },
    )


@require_POST
@student_page
def film(request: HttpRequest, public_id: UUID, talk_id: UUID, places: list[Membership]) -> HttpResponse:
    """Have a talk made into a video file; it appears on the answer's page when it is ready."""
    review = own_answer(person_of(request), public_id)
    talk = get_object_or_404(TalkThrough, review=review, public_id=talk_id)
    try:
        order_film(talk, by=person_of(request), now=timezone.now())
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(request, "The film is being made. It appears here in a few minutes.")
    return _back(review)


def _back(review: Review) -> HttpResponse:
    return redirect("student:answer", review.public_id)


def sore_sites(review: Review, user: User) -> list[str]:
    """Places that hurt or hurt before and that this drill should spare."""
    if review.drill is None:
        return []
    intake = Intake.objects.visible_to(user).filter(user=user).first()
    sore = set(intake.pain_sites if intake else []) & set(review.drill.avoid_sites)
    return [PainSite(site).label for site in sorted(sore) if site in PainSite.values]
