"""One page per student and camp: everything in order, read by whom, in pages and with a bounded number of queries."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from coachhub.accounts.models import User
from coachhub.feedback.domain.practice import log_practice
from coachhub.feedback.domain.thread_line import PAGE, Entry, thread_line
from coachhub.feedback.domain.threads import mark_read, post_feedback, post_message, thread_for
from coachhub.feedback.enums import PracticeKind, ReviewState
from coachhub.feedback.models import Review, Thread
from coachhub.swings.models import SignJudgement
from coachhub.videos.enums import SubmissionState
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


def answered(cast: Cast, student: User, *, hours_ago: int) -> Review:
    """Sent, measured with a confirmed sign, answered with a drill, all before NOW."""
    at = NOW - timedelta(hours=hours_ago)
    sent = factories.make_submission(
        student, cast.cohort, state=SubmissionState.ANSWERED, sent_at=at - timedelta(hours=2)
    )
    swing = factories.make_swing(factories.make_clip(sent), signs={"early_release": "likely"})
    SignJudgement.objects.create(
        swing=swing, sign="early_release", verdict="agree", by=cast.coach, created_at=at
    )
    review = factories.make_review(
        sent,
        state=ReviewState.PUBLISHED,
        published_at=at,
        published_by=cast.coach,
        drill=factories.make_drill(name="Half and hold"),
    )
    post_feedback(review, by=cast.coach, text="the answer", now=at)
    return review


def kind(entry: Entry) -> str:
    return (
        "sent"
        if entry.submission
        else "practice"
        if entry.practice
        else str(entry.message and entry.message.kind)
    )


def test_everything_stands_in_order_for_student_coach_and_guardian(cast: Cast) -> None:
    review = answered(cast, cast.minor, hours_ago=30)
    thread = thread_for(cast.minor, cast.camp, now=NOW)
    post_message(thread, by=cast.minor, text="thanks", now=NOW - timedelta(hours=20))
    log_practice(review, PracticeKind.DONE, by=cast.minor, on_day=NOW.date(), balls=20, now=NOW)
    for reader in (cast.minor, cast.coach, cast.guardian):
        line = thread_line(thread, reader)
        assert [kind(one) for one in line.entries] == ["sent", "feedback", "reply", "practice"]
        assert line.earlier is None
        assert line.entries[0].submission is not None and line.entries[0].submission.measured == 1  # type: ignore[attr-defined]
        assert line.entries[1].signs == ("early release",)


def test_who_has_read_it_is_told(cast: Cast) -> None:
    thread = thread_for(cast.student, cast.camp, now=NOW)
    post_message(thread, by=cast.student, text="hello", now=NOW)
    assert thread_line(thread, cast.student).entries[-1].read_by == ()
    assert thread_line(thread, cast.coach).entries[-1].is_new
    mark_read(thread, by=cast.coach, now=NOW + timedelta(minutes=1))
    assert thread_line(thread, cast.student).entries[-1].read_by == (cast.coach.name,)
    assert not thread_line(thread, cast.coach).entries[-1].is_new


def test_pages_go_back_without_gap_or_double(cast: Cast) -> None:
    thread = thread_for(cast.student, cast.camp, now=NOW)
    for n in range(PAGE + 15):
        post_message(thread, by=cast.student, text=f"word {n}", now=NOW + timedelta(minutes=n))
    newest = thread_line(thread, cast.student)
    older = thread_line(thread, cast.student, before=newest.earlier)
    assert (len(newest.entries), len(older.entries), older.earlier) == (PAGE, 15, None)
    words = [one.message.text for one in (*older.entries, *newest.entries) if one.message]
    assert words == [f"word {n}" for n in range(PAGE + 15)]


@pytest.mark.parametrize("page", ["student:thread", "coach:thread"])
def test_a_longer_talk_costs_no_more_queries(
    cast: Cast, page: str, django_assert_max_num_queries: Any
) -> None:
    thread: Thread = thread_for(cast.student, cast.camp, now=NOW)
    client = Client()
    client.force_login(cast.student if page.startswith("student") else cast.coach)
    for n in range(6):
        log_practice(
            answered(cast, cast.student, hours_ago=6 - n),
            PracticeKind.DONE,
            by=cast.student,
            on_day=NOW.date(),
            now=NOW,
        )
    for n in range(10):
        post_message(thread, by=cast.coach, text=f"word {n}", now=NOW)
    with django_assert_max_num_queries(30):
        html = client.get(reverse(page, args=[thread.public_id])).content.decode()
    # Beside each drill the student can say that it hurts; a coach can't say it for them.
    assert html.count("Tell my coach that it hurts") == (6 if page.startswith("student") else 0)
    assert html.count("Half and hold") >= 12 and "Confirmed: early release" in html
