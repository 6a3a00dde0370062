from __future__ import annotations

from datetime import timedelta

import pytest

from coachhub.accounts.models import Notice
from coachhub.feedback.domain.clock import pause_clock, promised, resume_clock, start_clock, stop_clock
from coachhub.feedback.domain.questions import ask_student, open_question
from coachhub.feedback.domain.reviews import claim_review, publish_review, save_draft
from coachhub.feedback.domain.threads import post_message, thread_for
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
HOUR = timedelta(hours=1)


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def review(cast: Cast) -> Review:
    """Waiting since Wednesday 18:30 in Tokyo, promised within 48 hours."""
    made = factories.make_review(factories.make_submission(cast.student, cast.cohort), due_at=None)
    start_clock(made, now=NOW)
    made.refresh_from_db()
    return made


def moves(review: Review) -> list[tuple[str, str]]:
    return list(review.clock.values_list("move", "reason"))


def test_a_pause_moves_the_promise_by_its_length(review: Review) -> None:
    assert review.due_at == NOW + 48 * HOUR
    pause_clock(review, reason="asked the student", now=NOW + HOUR)
    review.refresh_from_db()
    assert review.due_at is None
    resume_clock(review, now=NOW + 4 * HOUR)
    review.refresh_from_db()
    assert review.due_at == NOW + 51 * HOUR


def test_moves_that_do_not_follow_change_nothing(review: Review) -> None:
    assert not start_clock(review, now=NOW)
    assert not resume_clock(review, now=NOW)
    assert stop_clock(review, now=NOW + HOUR)
    for move in (start_clock, resume_clock, stop_clock):
        assert not move(review, now=NOW + 2 * HOUR)
    assert not pause_clock(review, reason="late", now=NOW + 2 * HOUR)
    assert moves(review) == [("start", ""), ("stop", "")]


def test_the_promise_keeps_standing_after_the_stop(review: Review) -> None:
    stop_clock(review, now=NOW + HOUR)
    review.refresh_from_db()
    assert review.due_at == NOW + 48 * HOUR


def test_a_changed_promise_of_the_camp_leaves_a_given_one_alone(review: Review, cast: Cast) -> None:
    cast.camp.promise_hours = 24
    cast.camp.save()
    fresh = Review.objects.get(pk=review.pk)
    assert promised(fresh) == NOW + 48 * HOUR


def test_asking_stands_the_clock_still_until_the_student_writes(review: Review, cast: Cast) -> None:
    claim_review(review, by=cast.coach, now=NOW)
    question = ask_student(review, "Where do you feel the weight at the top?", by=cast.coach, now=NOW + HOUR)
    review.refresh_from_db()
    assert (review.state, review.claimed_by, review.due_at) == (ReviewState.WAITING, None, None)
    assert open_question(cast.student, cast.camp) == question
    thread = thread_for(cast.student, cast.camp, now=NOW)
    post_message(thread, by=cast.coach, text="One more thing.", now=NOW + 2 * HOUR)
    told = Notice.objects.filter(person=cast.student).order_by("created_at").values_list("kind", flat=True)
    assert list(told) == ["question", "message"]
    review.refresh_from_db()
    assert review.due_at is None
    post_message(thread, by=cast.student, text="On my heels.", now=NOW + 11 * HOUR)
    review.refresh_from_db()
    assert review.due_at == NOW + 58 * HOUR
    assert open_question(cast.student, cast.camp) is None
    assert moves(review) == [("start", ""), ("pause", "asked the student"), ("resume", "the student wrote")]


def test_asking_again_while_waiting_pauses_once(review: Review, cast: Cast) -> None:
    for text in ("First?", "Second?"):
        ask_student(review, text, by=cast.coach, now=NOW + HOUR)
    assert [move for move, _ in moves(review)] == ["start", "pause"]


def test_answering_while_the_clock_stands_still_keeps_the_record(review: Review, cast: Cast) -> None:
    ask_student(review, "Does it hurt?", by=cast.coach, now=NOW + HOUR)
    claim_review(review, by=cast.coach, now=NOW + 2 * HOUR)
    save_draft(review, {"words": "Rest first."}, revision=0, by=cast.coach, now=NOW + 2 * HOUR)
    published = publish_review(review, by=cast.coach, now=NOW + 3 * HOUR)
    assert [move for move, _ in moves(review)] == ["start", "pause", "stop"]
    # The two hours of waiting for the student are not the coach's.
    published.refresh_from_db()
    assert published.due_at == NOW + 50 * HOUR
