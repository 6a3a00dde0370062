"""From the miss to the root on the desk: what the eye saw, ranked paths, questions, earlier and other findings."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import require
from coachhub.feedback.domain.camp_map import MapInUse, map_of
from coachhub.feedback.domain.causes import root_kind_of
from coachhub.feedback.domain.claims import refuse_unless_held
from coachhub.feedback.domain.eye import BY_HAND, LOOKS, NODE, NOT_NODE, observe, take_back, words_of
from coachhub.feedback.domain.finding import chain, frame_of
from coachhub.feedback.domain.ideas import idea_words, judge_grasp, old_idea_again
from coachhub.feedback.domain.questions import read_answer
from coachhub.feedback.domain.ranking import suggest_roots
from coachhub.feedback.domain.reviews import save_draft
from coachhub.feedback.domain.versions import give_opinion, say_fate
from coachhub.feedback.enums import Confidence, Fate, Grasp, Reading, ReviewState, VersionKind
from coachhub.feedback.models import FindingVersion, Observation, Question, Review, SayBack
from coachhub.swings.models import Swing
from coachhub.web.coach.access import way_back
from coachhub.web.coach.desk.lookup import desk_view, me, wants_json


def reasoning_of(review: Review, user: User, *, mine: bool, frames: list[tuple[str, str]]) -> dict[str, Any]:
    """What the panel shows; the same on the page and where the script fetches it anew."""
    in_use = map_of(review.submission.camp)
    labels = {key: node.label for key, node in in_use.found.nodes.items()}
    return {
        "review": review,
        "mine": mine,
        "frames": frames,
        "suggested": suggest_roots(review, in_use),
        "looks": LOOKS,
        "by_hand": _by_hand(in_use),
        "seen": [(one, words_of(one, labels), one.by_id == user.pk) for one in _observations(review)],
        "old_idea": old_idea_again(review),
        "questions": [(one, labels.get(one.node, "")) for one in _questions(review)],
        "readings": Reading.choices,
    }


def _observations(review: Review) -> list[Observation]:
    return list(review.observations.select_related("by", "swing").order_by("id"))


def _questions(review: Review) -> list[Question]:
    return list(review.questions.select_related("asked", "answer").order_by("id"))


def _by_hand(in_use: MapInUse) -> list[tuple[str, list[tuple[str, str]]]]:
    nodes = in_use.found.nodes.values()
    groups = [
        (kind.capitalize(), [(node.key, node.label) for node in nodes if node.kind == kind])
        for kind in BY_HAND
    ]
    return [group for group in groups if group[1]]


def frames_of(player: Any) -> list[tuple[str, str]]:
    """Every event of every swing as a frame to choose: ("swing@microseconds", words)."""
    return [
        (f"{swing['id']}@{event['t_us']}", f"{swing['label']}: {event['label']}")
        for swing in player["swings"]
        for event in swing["events"]
    ]


def idea_facts(review: Review) -> dict[str, dict[str, str]]:
    """For each idea of the map how to change it with this club; the page fills the answer with it."""
    found = map_of(review.submission.camp).found
    facts = {}
    for key in found.ideas:
        words = idea_words(key, review.submission.club_class, found)
        if words is not None:
            facts[key] = {"better_idea": words.better_idea, "look": words.look, "say_back": words.say_back}
    return facts


def opinions_of(review: Review) -> list[dict[str, Any]]:
    """The finding of the answer, once it is out, and the newest opinion of each colleague."""
    versions = FindingVersion.objects.filter(review=review).select_related("by", "map").order_by("number")
    newest = {(version.kind, version.by_id): version for version in versions}
    return [
        {
            "version": version,
            "steps": chain(version),
            "sure": Confidence(version.confidence).label if version.confidence else "",
            "is_answer": version.kind == VersionKind.ANSWER,
        }
        for version in newest.values()
    ]


def _panel(request: HttpRequest, review: Review) -> HttpResponse:
    """The script swaps the panel; a person gets the page again."""
    if not wants_json(request):
        return _desk(review)
    from coachhub.web.player import clips_to_show, hand_of, player_of

    user = me(request)
    hand = hand_of(review.submission.student_id)
    frames = frames_of(player_of(clips_to_show(review.submission, user), user, hand=hand))
    mine = review.state == ReviewState.CLAIMED and review.claimed_by_id == user.pk
    context = reasoning_of(review, user, mine=mine, frames=frames)
    page = render(request, "coach/desk/_finding_panel.html", context)
    return JsonResponse({"html": page.content.decode()})


def _desk(review: Review, place: str = "#reasoning") -> HttpResponse:
    return redirect(f"{redirect('coach:desk', public_id=review.public_id).url}{place}")


@require_safe
@desk_view
def panel(request: HttpRequest, review: Review) -> HttpResponse:
    return _panel(request, review)


@require_POST
@desk_view
def eye(request: HttpRequest, review: Review) -> HttpResponse:
    refuse_unless_held(review, me(request))
    look, _, value = request.POST.get("seen", "").partition(":")
    if look in (NODE, NOT_NODE):
        value = request.POST.get("node", "")
    frame = frame_of(request.POST.get("frame", ""))
    swing = _swing(review, frame[0]) if frame else None
    observe(
        review,
        look,
        value,
        by=me(request),
        swing=swing,
        at_us=frame[1] if frame and swing else None,
        now=timezone.now(),
    )
    return _panel(request, review)


def _swing(review: Review, ident: str) -> Swing | None:
    return (
        Swing.objects.filter(clip__submission=review.submission_id, public_id=ident)
        .select_related("clip")
        .first()
    )


@require_POST
@desk_view
def eye_back(request: HttpRequest, review: Review, seen_id: UUID) -> HttpResponse:
    seen = get_object_or_404(Observation, review=review, public_id=seen_id)
    take_back(seen, by=me(request), now=timezone.now())
    return _panel(request, review)


@require_POST
@desk_view
def read(request: HttpRequest, review: Review, question_id: UUID) -> HttpResponse:
    question = get_object_or_404(
        Question.objects.select_related("review"), review=review, public_id=question_id
    )
    read_answer(question, request.POST.get("reading", ""), by=me(request), now=timezone.now())
    return _panel(request, review)


@require_POST
@desk_view
def take_path(request: HttpRequest, review: Review) -> HttpResponse:
    """Without script: the suggestion goes into the draft. With script the page fills its own fields."""
    suggested = suggest_roots(review)
    wanted = request.POST.get("root", "")
    taken = next((each for each in suggested.suggestions if each.root.key == wanted), None)
    if taken is None:
        raise RuleBroken("gone", "That suggestion is not offered any more. Look at the new ones.")
    found = map_of(review.submission.camp).found
    fields: dict[str, Any] = {
        "finding": {
            "root_node": wanted,
            "root_kind": root_kind_of(found.nodes[wanted]),
            "mechanism_node": taken.mechanism_node,
            "taken_root": wanted,
        }
    }
    words = idea_words(wanted, review.submission.club_class, found)
    if words is not None:
        fields["idea"] = {"better_idea": words.better_idea, "look": words.look, "say_back": words.say_back}
    save_draft(review, fields, revision=review.revision, by=me(request), now=timezone.now())
    messages.success(request, "Taken into your finding. Change what you like.")
    return _desk(review, "#answer-heading")


@require_POST
@desk_view
def fate(request: HttpRequest, review: Review) -> HttpResponse:
    versions = FindingVersion.objects.filter(review__submission__student=review.submission.student_id)
    try:
        wanted = UUID(request.POST.get("version", ""))
    except ValueError:
        raise RuleBroken("form", "Load the page again and choose.") from None
    version = get_object_or_404(versions, public_id=wanted)
    refuse_unless_held(review, me(request))
    word = say_fate(version, request.POST.get("fate", ""), review=review, by=me(request), now=timezone.now())
    messages.success(request, f"Noted: {Fate(word.fate).label}.")
    return _desk(review, "#sent-heading")


@require_POST
@desk_view
def opinion(request: HttpRequest, review: Review) -> HttpResponse:
    names = ("miss", "mechanism_node", "mechanism", "root_kind", "root_node", "root", "confidence")
    fields = {name: request.POST.get(name, "") for name in names}
    node = map_of(review.submission.camp).found.nodes.get(fields["root_node"])
    fields["root_kind"] = fields["root_kind"] or root_kind_of(node)
    give_opinion(review, fields, by=me(request), now=timezone.now())
    messages.success(request, "Kept beside the other finding. Only coaches read it.")
    return _desk(review, "#opinions")


@require_POST
@login_required
def grasp(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The coach's word on what the student said back."""
    said = get_object_or_404(
        SayBack.objects.visible_to(me(request)).select_related("review__submission__camp"),
        public_id=public_id,
    )
    require(me(request), "feedback.review", said.review)
    try:
        judge_grasp(said, request.POST.get("grasp", ""), by=me(request), now=timezone.now())
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(request, f"Noted: {Grasp(said.grasp).label}.")
    return redirect(way_back(request))
