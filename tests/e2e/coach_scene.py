"""A queue with something of every kind in it, for the coach's pages in a browser."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.utils import timezone

from coachhub.accounts.models import User
from coachhub.feedback.domain.finding import save_finding
from coachhub.feedback.domain.threads import post_feedback, post_message, thread_for
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Practice, Review
from coachhub.swings.domain.judgements import judge_sign
from tests import factories
from tests.cast import Cast, make_cast

HOUR = timedelta(hours=1)


def make_queue() -> tuple[Cast, User]:
    """The cast, and a second coach of the cohort."""
    cast = make_cast()
    second = factories.make_user("Bo Second")
    factories.join(second, cast.cohort, "coach")
    now = timezone.now()
    lena = factories.make_student(cast.cohort, "Lena Overdue")
    tariq = factories.make_student(
        cast.cohort,
        "Tariq Red",
        pain="now",
        pain_sites=["low_back"],
        red_flags=["numb"],
        pain_words="My leg tingles.",
    )
    _waiting(cast, cast.cohort_mate, now + 30 * HOUR, is_first=True)
    _waiting(cast, lena, now - 5 * HOUR, has_pain=True, private_note="Bo Second: look at the grip, please.")
    _waiting(cast, tariq, now + 40 * HOUR, has_red_flag=True, has_pain=True)
    _waiting(
        cast, cast.student, now + 3 * HOUR, revision=2, state="claimed", claimed_by=cast.coach, claimed_at=now
    )
    _waiting(cast, lena, now + 20 * HOUR, deferred_until=now - HOUR, deferred_by=cast.coach)
    _waiting(cast, lena, now + 9 * HOUR, state="claimed", claimed_by=second, claimed_at=now)
    _answered(cast)
    return cast, second


def _waiting(cast: Cast, student: User, due_at: Any, **fields: Any) -> Review:
    submission = factories.make_submission(student, cast.cohort, miss_strike="fat")
    for view in ("face_on", "dtl"):
        factories.make_swing(factories.make_clip(submission, view=view), signs={"early_release": "likely"})
    return factories.make_review(submission, due_at=due_at, **fields)


def _answered(cast: Cast) -> None:
    now = timezone.now()
    submission = factories.make_submission(
        cast.student, cast.cohort, state="answered", note="The mat was hard."
    )
    swing = factories.make_swing(factories.make_clip(submission), signs={"early_release": "likely"})
    judge_sign(swing, "early_release", "agree", by=cast.coach, now=now)
    review = factories.make_review(
        submission,
        state=ReviewState.PUBLISHED,
        published_at=now - 20 * HOUR,
        published_by=cast.coach,
        opened_at=now - 19 * HOUR,
        priority="Let the hands be past the ball before the club is",
        drill=factories.make_drill(),
        dose="3 sets of 6",
    )
    finding = {
        "miss": "starts left, flies straight",
        "mechanism_node": "ds_early_release",
        "root_node": "bel_lift",
    }
    save_finding(review, finding)
    post_feedback(review, by=cast.coach, text=review.priority, now=now - 20 * HOUR)
    Practice.objects.create(
        review=review, kind="done", on_day=now.date(), balls=40, note="Better with the wedge", created_at=now
    )
    thread = thread_for(cast.student, cast.camp, now=now)
    post_message(thread, by=cast.student, text="Do I do this with the driver, too?", now=now - 2 * HOUR)
