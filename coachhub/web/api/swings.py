from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Prefetch, QuerySet
from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404
from ninja import Query, Router
from ninja.errors import HttpError

from coachhub.accounts.models import User
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.progress.domain.readable import Readable, readable
from coachhub.swings.models import Swing
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Clip, Submission
from coachhub.web.api.camps import OF_ONE, REFUSALS
from coachhub.web.api.paging import Page
from coachhub.web.api.schemas import (
    AnswerOut,
    ClipOut,
    EventOut,
    ReadoutOut,
    SignOut,
    SubmissionOut,
    SubmissionWithClips,
    SwingOut,
    SwingRef,
    number_out,
)
from coachhub.web.who import person_of
from coachhub.web.words import metric_label

router = Router(tags=["swings"])


class Wanted(Page):
    camp: UUID | None = None
    state: SubmissionState | None = None
    sent_since: datetime | None = None


@router.get(
    "/submissions",
    response={200: list[SubmissionOut], **REFUSALS},
    summary="What was sent, the latest first",
    operation_id="submissions",
)
def submissions(request: HttpRequest, wanted: Query[Wanted]) -> list[SubmissionOut]:
    rows = _submissions(person_of(request))
    if wanted.camp is not None:
        rows = rows.filter(camp__public_id=wanted.camp)
    if wanted.state is not None:
        rows = rows.filter(state=wanted.state)
    if wanted.sent_since is not None:
        rows = rows.filter(sent_at__gte=_with_zone(wanted.sent_since))
    return [SubmissionOut(**_submission(one)) for one in wanted.cut(rows.order_by("-created_at", "-pk"))]


@router.get(
    "/submissions/{submission_id}",
    response={200: SubmissionWithClips, **OF_ONE},
    summary="One submission with its clips and the swings found in them",
    operation_id="submission",
)
def submission(request: HttpRequest, submission_id: UUID) -> SubmissionWithClips:
    swings = Prefetch("swings", queryset=Swing.objects.order_by("number"))
    clips = Prefetch("clips", queryset=Clip.objects.order_by("number").prefetch_related(swings))
    rows = _submissions(person_of(request)).prefetch_related(clips)
    found = get_object_or_404(rows, public_id=submission_id)
    return SubmissionWithClips(**_submission(found), clips=[_clip(clip) for clip in found.clips.all()])


@router.get(
    "/submissions/{submission_id}/answer",
    response={200: AnswerOut, **OF_ONE},
    summary="The published answer to a submission",
    operation_id="answer",
)
def answer(request: HttpRequest, submission_id: UUID) -> AnswerOut:
    out = Review.objects.visible_to(person_of(request)).filter(state=ReviewState.PUBLISHED)
    related = ("submission", "published_by", "drill")
    review = get_object_or_404(out.select_related(*related), submission__public_id=submission_id)
    assert review.published_at is not None
    return AnswerOut(
        id=review.public_id,
        submission=submission_id,
        published_at=review.published_at,
        coach=review.published_by.name if review.published_by else "",
        words=review.words,
        keep=review.keep,
        priority=review.priority,
        cue=review.cue,
        drill=review.drill.name if review.drill else "",
        dose=review.dose,
    )


@router.get(
    "/swings/{swing_id}", response={200: SwingOut, **OF_ONE}, summary="One swing", operation_id="swing"
)
def swing(request: HttpRequest, swing_id: UUID) -> SwingOut:
    found = _swing(person_of(request), swing_id)
    clip = found.clip
    return SwingOut(
        **_swing_ref(found).dict(),
        clip=clip.public_id,
        submission=clip.submission.public_id if clip.submission else None,
        view=clip.view,
        club_class=clip.club_class,
    )


@router.get(
    "/swings/{swing_id}/readout",
    response={200: ReadoutOut, **OF_ONE, 409: OF_ONE[404]},
    summary="The measured numbers of one swing, as far as you may read them",
    operation_id="readout",
)
def readout(request: HttpRequest, swing_id: UUID) -> ReadoutOut:
    person = person_of(request)
    found = _swing(person, swing_id)
    seen = readable(found, person)
    if seen is None:
        raise HttpError(409, "There are no numbers to read yet: they come with the coach's answer.")
    return _readout(seen, swing_id)


def _submissions(person: User) -> QuerySet[Submission]:
    related = ("camp", "cohort", "student", "review")
    return Submission.objects.visible_to(person).select_related(*related)


def _with_zone(at: datetime) -> datetime:
    """A time without a zone is refused: nobody could say which one was meant."""
    if at.tzinfo is None:
        raise HttpError(422, "sent_since needs a time zone, as in 2026-06-01T08:00:00Z.")
    return at


def _submission(one: Submission) -> dict[str, Any]:
    review = getattr(one, "review", None)
    is_out = review is not None and review.state == ReviewState.PUBLISHED
    return {
        "id": one.public_id,
        "camp": one.camp.public_id,
        "cohort": one.cohort.public_id,
        "student": one.student.public_id,
        "student_name": one.student.name,
        "due_at": review.due_at if review is not None else None,
        "answer": review.public_id if review is not None and is_out else None,
    } | {name: getattr(one, name) for name in _PLAIN}


_PLAIN = (
    "state",
    "range_day",
    "club_class",
    "miss_start",
    "miss_curve",
    "miss_strike",
    "miss_height",
    "intents",
    "sent_at",
)


def _clip(clip: Clip) -> ClipOut:
    names = (
        "number",
        "view",
        "state",
        "refused_code",
        "refused_text",
        "duration_s",
        "fps",
        "width",
        "height",
    )
    plain = {name: getattr(clip, name) for name in names}
    return ClipOut(id=clip.public_id, swings=[_swing_ref(one) for one in clip.swings.all()], **plain)


def _swing_ref(one: Swing) -> SwingRef:
    return SwingRef(id=one.public_id, number=one.number, start_s=one.start_s, end_s=one.end_s)


def _swing(person: User, swing_id: UUID) -> Swing:
    related = ("clip__submission__camp", "clip__reference")
    found = Swing.objects.visible_to(person).select_related(*related).filter(public_id=swing_id).first()
    if found is None:
        raise Http404("no such swing")
    return found


def _readout(seen: Readable, swing_id: UUID) -> ReadoutOut:
    row, data = seen.readout, seen.readout.data
    return ReadoutOut(
        id=row.public_id,
        swing=swing_id,
        revision=row.revision,
        measured_at=row.created_at,
        engine=str(data.get("version") or row.run.code_version),
        view=str(data.get("view") or ""),
        fps=data.get("fps"),
        reviewed=seen.reviewed,
        events={
            name: EventOut(t_s=one["t"], se_s=one["se"]) for name, one in (data.get("events") or {}).items()
        },
        metrics={name: number_out(one, metric_label(name)) for name, one in seen.metrics.items()},
        signs={
            name: SignOut(level=one["level"], probability=one.get("p"), verdicts=seen.verdicts.get(name, []))
            for name, one in seen.signs.items()
        },
        not_visible=list(data.get("not_visible") or []),
        limits=list(data.get("limits") or []),
    )
