"""Changing an idea: the better one with the club of the day, two pictures to compare, and the student's own words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from analysis.causes import CauseMap
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.feedback.domain.claims import refuse_unless_coach
from coachhub.feedback.domain.finding import frame_of
from coachhub.feedback.domain.texts import text_for
from coachhub.feedback.domain.threads import post_message, settle_unless_later, thread_for
from coachhub.feedback.domain.versions import last_answered
from coachhub.feedback.enums import Grasp, MessageKind, Reading, ReviewState
from coachhub.feedback.models import FindingVersion, IdeaChange, Question, Review, SayBack
from coachhub.swings.models import Swing
from coachhub.videos.models import Clip, Reference

TEXTS = {"better_idea": "the better idea", "look": "what to look at", "say_back": "say it back"}


@dataclass(frozen=True)
class IdeaWords:
    ask: str
    effect: str
    better_idea: str
    look: str
    say_back: str


def idea_words(node: str, club_class: str, found: CauseMap) -> IdeaWords | None:
    """How to talk about an idea with this club; None for what is no idea of the map."""
    idea = found.ideas.get(node)
    if idea is None:
        return None
    special = club_class == "driver" and idea.better_idea_driver not in ("", "the same")
    better = idea.better_idea_driver if special else idea.better_idea
    return IdeaWords(idea.ask, idea.effect, better, idea.show, idea.say_back)


def save_idea(review: Review, fields: Mapping[str, Any], *, by: User) -> IdeaChange:
    """``fields``: better_idea, look, say_back, own_at ("swing@microseconds"), demo_at ("clip@microseconds")."""
    changes: dict[str, Any] = {
        name: text_for(IdeaChange, name, fields[name], label=label)
        for name, label in TEXTS.items()
        if name in fields
    }
    if "own_at" in fields:
        changes |= _own(review, str(fields["own_at"] or ""))
    if "demo_at" in fields:
        changes |= _demo(review, str(fields["demo_at"] or ""), by)
    change, _ = IdeaChange.objects.update_or_create(review=review, defaults=changes)
    return change


def _own(review: Review, text: str) -> dict[str, Any]:
    frame = frame_of(text)
    swing = _swing(review, frame[0]) if frame else None
    if frame and swing is None:
        raise RuleBroken("frame", "That frame is not of this submission. Choose another.")
    return {"own_swing": swing, "own_us": frame[1] if frame else None}


def _swing(review: Review, ident: str) -> Swing | None:
    return Swing.objects.filter(public_id=ident, clip__submission=review.submission_id).first()


def _demo(review: Review, text: str, by: User) -> dict[str, Any]:
    frame = frame_of(text)
    clip = demonstrations(review, by).filter(public_id=frame[0]).first() if frame else None
    if frame and clip is None:
        raise RuleBroken("frame", "That demonstration is not in your library any more. Choose another.")
    return {"demo_clip": clip, "demo_us": frame[1] if frame else None}


def demonstrations(review: Review, by: User) -> Any:
    """Films of the coach's library that can be shown."""
    usable = Reference.objects.usable_by(by).filter(camp=review.submission.camp_id)
    # One that is in the answer already stays choosable for a colleague.
    chosen = IdeaChange.objects.filter(review=review).values("demo_clip_id")
    films = Clip.objects.filter(Q(reference__in=usable) | Q(pk__in=chosen)).exclude(rendition_key="")
    return films.filter(state="usable").select_related("reference").order_by("reference__title", "pk")


def show_demonstration(review: Review) -> None:
    """The answer goes out: the student may see the demonstration that it holds."""
    change = IdeaChange.objects.filter(review=review).select_related("demo_clip__reference").first()
    reference = change.demo_clip.reference if change and change.demo_clip else None
    if reference is not None:
        reference.shown_to.add(review.submission.student_id)


@transaction.atomic
def say_it_back(
    review: Review, text: str, *, by: User, now: datetime, public_id: UUID | None = None
) -> SayBack:
    """The student's own words; they land in the thread, and the coach says whether it is understood."""
    if review.submission.student_id != by.pk:
        raise RuleBroken("not_yours", "Only the student who got this answer can do that.")
    if review.state != ReviewState.PUBLISHED:
        raise RuleBroken("not_published", "There is no answer yet.")
    thread = thread_for(by, review.submission.camp, now=now)
    message = post_message(
        thread, by=by, text=text, review=review, kind=MessageKind.NOTE, now=now, public_id=public_id
    )
    said, is_new = SayBack.objects.get_or_create(
        message=message, defaults={"review": review, "created_at": now}
    )
    if is_new:
        record("idea.said_back", said, by=by, now=now, scope=review.submission.camp.public_id)
    return said


@transaction.atomic
def judge_grasp(said: SayBack, grasp: str, *, by: User, now: datetime) -> SayBack:
    """Understood or not yet; a coach may change the mind, the newest word counts."""
    refuse_unless_coach(said.review, by)
    if grasp not in Grasp.values:
        raise RuleBroken("grasp", "Choose one: understood, or not yet.")
    said.grasp, said.judged_by, said.judged_at = grasp, by, now
    said.save(update_fields=["grasp", "judged_by", "judged_at"])
    if grasp == Grasp.UNDERSTOOD:
        settle_unless_later(said.message)
    scope = said.review.submission.camp.public_id
    record("idea.judged", said, by=by, now=now, scope=scope, grasp=grasp)
    return said


@dataclass(frozen=True)
class OldIdea:
    """The idea of the last finding, met again in what the student says now."""

    node: str
    version: FindingVersion
    where: tuple[str, ...]
    messages: frozenset[int]


def old_idea_again(review: Review) -> OldIdea | None:
    """Whether this submission's answers show the idea that the last finding named as the root."""
    version = last_answered(review)
    if version is None or not version.root_node or version.root_kind != "idea":
        return None
    node, where, messages = version.root_node, [], set()
    if node in review.submission.intents:
        where.append("chosen again with these swings")
    for question in Question.objects.filter(review=review):
        read = question.node == node and question.reading == Reading.SHOWS
        if read or (node in question.chosen and question.reading != Reading.NOT_SO):
            where.append("in the answer to your question")
            messages.add(question.answer_id)
    return (
        OldIdea(node, version, tuple(dict.fromkeys(where)), frozenset(filter(None, messages)))
        if where
        else None
    )
