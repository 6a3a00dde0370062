"""One student on one page: pain first, then what was sent, thought, answered and practised."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.db.models import Count, Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.accounts.domain.consent import allows
from coachhub.accounts.enums import PainNow, PainSite, Purpose, RedFlag
from coachhub.accounts.models import Intake, User
from coachhub.camps.models import Membership
from coachhub.common.domain.sights import note_sight
from coachhub.common.rules import can
from coachhub.feedback.domain.adherence import assignments_of
from coachhub.feedback.domain.finding import Step, chain, miss_sentence
from coachhub.feedback.domain.health import latest_intake
from coachhub.feedback.domain.parked import parked_for
from coachhub.feedback.domain.ticks import cleared_in, standing_flags
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.forms import ClearAlertForm, WriteForm
from coachhub.feedback.models import Practice, Review, Thread
from coachhub.progress.domain.trends import Trend, metric_trends
from coachhub.swings.enums import SignKey, Verdict
from coachhub.swings.models import SignJudgement
from coachhub.videos.enums import ClipState, ClipWork, SubmissionState, View
from coachhub.videos.models import Clip, ClipJob, Submission
from coachhub.web.account.summary import summary_of
from coachhub.web.coach.access import me, student_place
from coachhub.web.coach.rows import filmed_words
from coachhub.web.coach.words import promise_words
from coachhub.web.student.progressing import ClipProgress, clip_progress
from coachhub.web.words import metric_label

MOST_SHOWN = 40
MOVING = (ClipState.RECEIVED, ClipState.PLAYABLE)


@require_safe
@login_required
def student(request: HttpRequest, public_id: UUID) -> HttpResponse:
    place = student_place(request, public_id)
    person = place.user
    # Without this agreement the page shows the person and the talk, and nothing else.
    agrees = allows(person, Purpose.FEEDBACK)
    note_sight(place, by=me(request), now=timezone.now(), scope=place.camp.public_id)
    intake = latest_intake(person.pk) if agrees else None
    sent = _sent(place, me(request))
    context = {
        "place": place,
        "person": person,
        "intake": intake,
        "facts": summary_of(intake) if intake else [],
        "pain": pain_of(place, intake, [entry.submission for entry in sent]),
        "cleared": cleared_in(person, place.camp.public_id),
        "clear": ClearAlertForm(),
        "sent": sent,
        "signs": _confirmed_signs(place) if agrees else [],
        "practice": _practice(place) if agrees else [],
        "assignments": assignments_of(person, place.camp, now=timezone.now()) if agrees else [],
        "agrees": agrees,
        "parked": list(parked_for(person, place.camp)) if agrees else [],
        "open_review": _held_review(place, me(request)),
        "thread": Thread.objects.filter(student=person, camp=place.camp).first(),
        "write": WriteForm(initial={"token": uuid.uuid4()}),
        "may_write": can(me(request), "feedback.write", place),
        "may_review": can(me(request), "feedback.review", place),
        "back": request.path,
        **(_trend_context(place, request.GET.get("number", "")) if agrees else {}),
    }
    return render(request, "coach/student.html", context)


@dataclass(frozen=True)
class Pain:
    red_flags: list[str]
    sites: list[str]
    now: bool
    past: bool
    # What the student wrote, with the day; a person reads it.
    words: list[tuple[str, Any]]


def pain_of(place: Membership, intake: Intake | None, submissions: list[Submission]) -> Pain:
    """All that was ever said of pain in this camp, the newest first; of the alerts those that still stand."""
    flags = standing_flags(place.user_id, place.camp.public_id, intake, submissions)
    words = [(one.pain_words, one.range_day) for one in submissions if one.pain_words.strip()]
    if intake and intake.pain_words.strip():
        words.append((intake.pain_words, intake.created_at.date()))
    return Pain(
        red_flags=[str(RedFlag(flag).label) for flag in flags],
        sites=[str(PainSite(site).label) for site in (intake.pain_sites if intake else ())],
        now=bool(intake and intake.pain == PainNow.NOW) or any(one.pain_today for one in submissions[:1]),
        past=bool(intake and intake.pain == PainNow.PAST),
        words=words,
    )


@dataclass(frozen=True)
class Sent:
    submission: Submission
    review: Review | None
    filmed: str
    miss: str
    steps: list[Step]
    promise: str
    refused: list[Clip]
    # Clips that are still being checked or measured, with how far they are.
    moving: list[ClipProgress]


def _sent(place: Membership, user: User) -> list[Sent]:
    seen = Submission.objects.visible_to(user).filter(student=place.user, camp=place.camp)
    hidden = (SubmissionState.OPEN, SubmissionState.WITHDRAWN)
    clips = (
        Clip.objects.annotate(swing_count=Count("swings", distinct=True))
        .select_related("measurement__run")
        .prefetch_related(Prefetch("jobs", ClipJob.objects.filter(work=ClipWork.CHECK), to_attr="checks"))
    )
    rows = (
        seen.exclude(state__in=hidden)
        .select_related("review__finding", "review__drill", "review__published_by", "review__claimed_by")
        .prefetch_related(Prefetch("clips", queryset=clips.order_by("number")))
        .order_by("-range_day", "-id")[:MOST_SHOWN]
    )
    return [_entry(row, user) for row in rows]


def _entry(submission: Submission, user: User) -> Sent:
    review: Review | None = getattr(submission, "review", None)
    clips = list(submission.clips.all())
    is_open = review is not None and review.state in (ReviewState.WAITING, ReviewState.CLAIMED)
    return Sent(
        submission=submission,
        review=review,
        filmed=filmed_words(submission, [clip for clip in clips if clip.state != ClipState.REFUSED]),
        miss=miss_sentence(submission),
        steps=chain(getattr(review, "finding", None)),
        promise=promise_words(review.due_at, timezone.now()) if review is not None and is_open else "",
        refused=[clip for clip in clips if clip.state == ClipState.REFUSED],
        moving=[clip_progress(clip, user) for clip in clips if clip.state in MOVING],
    )


def _confirmed_signs(place: Membership) -> list[tuple[str, int, Any]]:
    """Signs that a coach agreed with: name, in how many swings, last on which range day."""
    agreed = SignJudgement.objects.filter(
        verdict=Verdict.AGREE,
        swing__clip__submission__student=place.user,
        swing__clip__submission__camp=place.camp,
    ).values_list("sign", "swing_id", "swing__clip__submission__range_day")
    swings: dict[str, set[int]] = {}
    last: dict[str, Any] = {}
    for sign, swing_id, day in agreed:
        swings.setdefault(sign, set()).add(swing_id)
        last[sign] = max(day, last.get(sign, day))
    labels = dict(SignKey.choices)
    return [(str(labels.get(sign, sign)), len(swings[sign]), last[sign]) for sign in sorted(swings)]


def _practice(place: Membership) -> list[Practice]:
    return list(Practice.objects.of(place.user, place.camp).with_drills()[:MOST_SHOWN])


def _held_review(place: Membership, coach: User) -> Review | None:
    """The answer that this coach is writing to this student."""
    held = Review.objects.writable_by(coach).filter(state=ReviewState.CLAIMED, claimed_by=coach)
    return held.filter(submission__student=place.user, submission__camp=place.camp).first()


def _trend_context(place: Membership, wanted: str) -> dict[str, Any]:
    """One measured number over the range days; the coach sees swings that are not answered yet, too."""
    trends = metric_trends(place.user, place.camp, only_published=False)
    if not trends:
        return {}
    # Something that can be compared says more than the number measured most often.
    fallback = next((trend for trend in trends if len(trend.points) > 1), trends[0])
    chosen = next((trend for trend in trends if _key(trend) == wanted), fallback)
    numbers = sorted(((_key(trend), _title(trend)) for trend in trends), key=lambda row: row[1])
    return {"numbers": numbers, "number": _key(chosen), "trend": chosen, "trend_title": _title(chosen)}


def _key(trend: Trend) -> str:
    return f"{trend.metric}.{trend.view}.{trend.club_class}"


def _title(trend: Trend) -> str:
    view = str(View(trend.view).label) if trend.view in View.values else trend.view
    return f"{metric_label(trend.metric).capitalize()}: {trend.club_class}, {view}"
