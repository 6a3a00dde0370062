"""A coach asked a student about a pain alert, and it no longer stands."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from coachhub.accounts.enums import AlertGround
from coachhub.accounts.models import AlertCleared, User
from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.feedback.domain.health import UNREVIEWED, health_of, latest_intake
from coachhub.feedback.domain.threads import thread_for
from coachhub.feedback.domain.ticks import Tick, standing_ticks
from coachhub.feedback.enums import MessageKind
from coachhub.feedback.models import Message, Review
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission

LONGEST_WORDS = 500


@transaction.atomic
def clear_alert(place: Membership, *, ground: str, words: str, by: User, now: datetime) -> AlertCleared:
    """What is ticked up to now no longer stands in this camp; the same box ticked anew stands again."""
    reason = _reason(ground, words)
    row = AlertCleared.objects.create(
        student=place.user,
        cleared_by=by,
        scope_id=place.camp.public_id,
        ground=ground,
        words=reason,
        ticks=_standing(place),
        created_at=now,
    )
    record("alert.cleared", row, by=by, now=now, scope=place.camp.public_id, ground=ground)
    _lower_flags(place)
    _tell(place, row, by=by, now=now)
    return row


def _reason(ground: str, words: str) -> str:
    if ground not in AlertGround.values:
        raise RuleBroken("ground", "Choose why the alert no longer stands.")
    reason = words.strip()
    if not reason:
        raise RuleBroken("no_reason", "Write what the student said when you asked.")
    if len(reason) > LONGEST_WORDS:
        raise RuleBroken("too_long", f"The reason can have {LONGEST_WORDS} characters, not {len(reason)}.")
    return reason


def _standing(place: Membership) -> list[Tick]:
    sent = Submission.objects.filter(student=place.user, camp=place.camp)
    ticks = standing_ticks(
        place.user_id,
        place.camp.public_id,
        latest_intake(place.user_id),
        sent.exclude(state=SubmissionState.WITHDRAWN),
    )
    if not ticks:
        raise RuleBroken("no_alert", "No pain alert of this student stands any more.")
    return ticks


def _lower_flags(place: Membership) -> None:
    """The alert is lifted; the mark for pain, which calls for gentler drills, stays where it was."""
    flagged = Review.objects.filter(
        submission__student=place.user,
        submission__camp=place.camp,
        state__in=UNREVIEWED,
        has_red_flag=True,
    )
    for review in flagged.select_related("submission__camp"):
        if not health_of(review.submission).has_red_flag:
            Review.objects.filter(pk=review.pk).update(has_red_flag=False)


def _tell(place: Membership, row: AlertCleared, *, by: User, now: datetime) -> None:
    """Into the thread, and whatever waits for an answer there goes on waiting."""
    text = (
        f"Your pain alert no longer stands: {AlertGround(row.ground).label}. “{row.words}”\n"
        "If it is still there or comes back: stop, see a clinician, and tick it again in your answers."
    )
    thread = thread_for(place.user, place.camp, now=now)
    Message.objects.create(thread=thread, author=by, kind=MessageKind.NOTE, text=text, created_at=now)
