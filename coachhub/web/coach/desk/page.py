"""The desk itself, and the last look before publishing."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.accounts.models import User
from coachhub.common.domain.sights import note_sight
from coachhub.feedback.domain.beside import choices_beside
from coachhub.feedback.domain.camp_map import map_of
from coachhub.feedback.domain.finding import chain
from coachhub.feedback.domain.library import suggest
from coachhub.feedback.domain.versions import draft_links
from coachhub.feedback.enums import ReviewState, RootKind
from coachhub.feedback.models import Explanation, Finding, Review, VoiceNote
from coachhub.swings.enums import Verdict
from coachhub.videos.models import Clip
from coachhub.web.beside import grouped, kept_of, replay_with_kept
from coachhub.web.coach.desk.background import background_of
from coachhub.web.coach.desk.drills import drill_facts
from coachhub.web.coach.desk.following import answers_before
from coachhub.web.coach.desk.forms import AnswerForm, OpinionForm
from coachhub.web.coach.desk.lookup import desk_view, me
from coachhub.web.coach.desk.readouts import cards_of
from coachhub.web.coach.desk.reasoning import frames_of, idea_facts, opinions_of, reasoning_of
from coachhub.web.ideas import idea_of
from coachhub.web.media.links import media_link
from coachhub.web.player import clips_to_show, hand_of, player_of, voice_data
from coachhub.web.talks import is_waiting, talks_of


@require_safe
@desk_view
def desk(request: HttpRequest, review: Review) -> HttpResponse:
    note_sight(review, by=me(request), now=timezone.now(), scope=review.submission.camp.public_id)
    if review.state in (ReviewState.PUBLISHED, ReviewState.DROPPED):
        return render(request, "coach/desk/closed.html", _answer(review, me(request)))
    return render(request, "coach/desk.html", _desk(review, me(request)))


@require_safe
@desk_view
def check(request: HttpRequest, review: Review) -> HttpResponse:
    """What the student will see, word by word, with the button that sends it."""
    if review.state == ReviewState.PUBLISHED:
        return redirect("coach:desk", public_id=review.public_id)
    context = _answer(review, me(request))
    context["gaps"] = _gaps(review, context)
    context["links"] = draft_links(review)
    return render(request, "coach/desk/check.html", context)


def _desk(review: Review, user: User) -> dict[str, Any]:
    clips = clips_to_show(review.submission, user)
    suggestions = suggest(review)
    player = player_of(
        clips,
        user,
        hand=hand_of(review.submission.student_id),
        marks=review.marks.select_related("swing"),
        moments=review.moments.select_related("swing"),
    )
    frames = frames_of(player)
    return {
        "review": review,
        "submission": review.submission,
        "mine": is_mine(review, user),
        "free": review.state == ReviewState.WAITING,
        "coming": review.state == ReviewState.COMING,
        "player": player,
        "cards": cards_of(clips, user.pk),
        "refused_clips": Clip.objects.visible_to(user).filter(submission=review.submission, state="refused"),
        "verdicts": Verdict.choices,
        "background": background_of(review),
        "form": AnswerForm(review=review, suggestions=suggestions, frames=frames, user=user),
        "idea_facts": idea_facts(review),
        "opinions": opinions_of(review),
        "opinion_form": opinion_form(review, user),
        **reasoning_of(review, user, mine=is_mine(review, user), frames=frames),
        "suggestions": suggestions,
        "drill_facts": drill_facts(suggestions),
        "voice": voice_notes(review, user),
        "explanations": explanations_of(user),
        "talks": (talks := talks_of(review, user)),
        "talk_waiting": is_waiting(talks),
        **beside_context(review, user),
        "before": answers_before(review),
        "now": timezone.now(),
    }


def beside_context(review: Review, user: User) -> dict[str, Any]:
    """What may stand beside a swing, and what of it is in the answer."""
    kept = kept_of(review, user)
    return {
        "beside": grouped(choices_beside(review, user)),
        "kept": kept,
        "kept_data": [one["data"] for one in kept if one["data"]],
    }


def is_mine(review: Review, user: User) -> bool:
    return review.state == ReviewState.CLAIMED and review.claimed_by_id == user.pk


def opinion_form(review: Review, user: User) -> OpinionForm | None:
    """Who writes the answer has no second opinion to give."""
    return None if is_mine(review, user) else OpinionForm(found=map_of(review.submission.camp).found)


def voice_notes(review: Review, user: User) -> list[dict[str, Any]]:
    notes = VoiceNote.objects.filter(review=review).select_related("swing").order_by("id")
    return [voice_data(note, user) for note in notes]


def explanations_of(user: User) -> list[dict[str, Any]]:
    kept = Explanation.objects.visible_to(user)
    return [{"row": one, "src": media_link("explanation.audio", one, user)} for one in kept]


def _answer(review: Review, user: User) -> dict[str, Any]:
    return {
        "review": review,
        "submission": review.submission,
        "mine": is_mine(review, user),
        "steps": chain(Finding.objects.filter(review=review).first()),
        "opinions": opinions_of(review),
        "opinion_form": opinion_form(review, user),
        "idea": idea_of(review, user),
        "say_backs": review.say_backs.select_related("message", "judged_by"),
        "last": background_of(review).last,
        "replay": replay_with_kept(review, user),
        "talks": talks_of(review, user, only_ready=True),
        "waiting_voice": review.voice_notes.exclude(job_state="done").count()
        + review.talks.exclude(job_state="done").count(),
    }


def _gaps(review: Review, context: dict[str, Any]) -> list[str]:
    """What a coach may have forgotten; none of it forbids publishing."""
    gaps = []
    if not review.priority.strip():
        gaps.append("There is no one thing to work on yet.")
    last = context["last"]
    if last is not None and last.version is not None and last.word is None:
        gaps.append("You have not said what became of the last finding: still so, seen differently, or gone?")
    idea = context["idea"]
    if idea is None and Finding.objects.filter(review=review, root_kind=RootKind.IDEA).exists():
        gaps.append("The root is an idea, and no better idea is named.")
    if not review.keep.strip():
        gaps.append("Nothing is named that the student should keep.")
    if any(not note["caption"].strip() for note in (*context["replay"]["voice"], *context["talks"])):
        gaps.append("A recording has no words in writing: a student who can't hear it gets nothing from it.")
    if any(not mark["note"] and not mark["label"] for mark in context["replay"]["marks"]):
        gaps.append("A drawing has no note: a student who can't see it gets nothing from it.")
    if context["waiting_voice"]:
        gaps.append("A recording is not ready; it appears in the answer as soon as it is.")
    return gaps
