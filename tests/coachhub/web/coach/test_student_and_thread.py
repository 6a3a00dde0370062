from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from coachhub.camps.models import Membership
from coachhub.feedback.domain.finding import save_finding
from coachhub.feedback.domain.threads import post_message, thread_for
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Message, Practice, Review, ThreadRead
from coachhub.swings.domain.judgements import judge_sign
from coachhub.videos.enums import ClipState, SubmissionState
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def signed_in(user: Any) -> Client:
    client = Client()
    client.force_login(user)
    return client


def place_of(cast: Cast) -> Membership:
    return Membership.objects.get(user=cast.student)


def answered(cast: Cast) -> Review:
    submission = factories.make_submission(cast.student, cast.cohort, state=SubmissionState.ANSWERED)
    swing = factories.make_swing(factories.make_clip(submission), signs={"early_release": "likely"})
    judge_sign(swing, "early_release", "agree", by=cast.coach, now=NOW)
    review = factories.make_review(
        submission,
        state=ReviewState.PUBLISHED,
        published_at=NOW,
        published_by=cast.coach,
        priority="Let the hands lead",
        drill=factories.make_drill(),
        dose="3 sets of 6",
    )
    save_finding(review, {"miss": "starts left", "mechanism": "thrown early", "root": "wants to lift it"})
    Practice.objects.create(
        review=review, kind="hurts", on_day=NOW.date(), note="my elbow", balls=20, created_at=NOW
    )
    return review


def test_the_student_page_shows_pain_findings_answers_and_practice(cast: Cast) -> None:
    factories.make_intake(
        cast.student,
        pain="now",
        pain_sites=["elbow"],
        pain_words="since spring",
        created_at=NOW.replace(hour=20),
    )
    answered(cast)
    text = (
        signed_in(cast.coach).get(reverse("coach:student", args=[place_of(cast).public_id])).content.decode()
    )
    for words in (
        "Pain now: elbow",
        "since spring",
        "thrown early",
        "Let the hands lead",
        "Brush ahead, 3 sets of 6",
        "not opened yet",
        "Early release: 1 swing",
        "this hurts",
        "my elbow",
        "right-handed",
    ):
        assert words in text, words


def test_a_red_flag_stands_above_everything(cast: Cast) -> None:
    factories.make_submission(cast.student, cast.cohort, red_flags=["numb"])
    text = (
        signed_in(cast.coach).get(reverse("coach:student", args=[place_of(cast).public_id])).content.decode()
    )
    assert text.index("Pain alert") < text.index("What was sent")
    assert "clinician" in text


def test_the_organiser_reads_and_does_not_write(cast: Cast) -> None:
    answered(cast)
    page = signed_in(cast.organiser).get(reverse("coach:student", args=[place_of(cast).public_id]))
    text = page.content.decode()
    assert page.status_code == 200
    assert "coach/threads" not in text
    assert "<textarea" not in text
    assert "/desk/" not in text


def test_a_draft_submission_is_not_shown(cast: Cast) -> None:
    factories.make_submission(
        cast.student, cast.cohort, state=SubmissionState.OPEN, note="not sent yet words"
    )
    text = (
        signed_in(cast.coach).get(reverse("coach:student", args=[place_of(cast).public_id])).content.decode()
    )
    assert "not sent yet words" not in text


def test_clips_on_their_way_show_how_far_they_are(cast: Cast) -> None:
    submission = factories.make_submission(cast.student, cast.cohort, state=SubmissionState.SENT)
    clip = factories.make_clip(submission, state=ClipState.PLAYABLE)
    factories.make_run(clip, job_state="running", stage="measuring swing 1 of 2", percent=50)
    text = (
        signed_in(cast.coach).get(reverse("coach:student", args=[place_of(cast).public_id])).content.decode()
    )
    assert "Clip 1, face-on:" in text
    assert "measuring swing 1 of 2" in text
    assert "60 %" in text


def test_query_count_of_the_student_page_is_constant(cast: Cast) -> None:
    client, counts = signed_in(cast.coach), []
    # The first look in an hour is written down.
    client.get(reverse("coach:student", args=[place_of(cast).public_id]))
    for more in (1, 2):
        for _ in range(more):
            answered(cast)
        with CaptureQueriesContext(connection) as seen:
            client.get(reverse("coach:student", args=[place_of(cast).public_id]))
        counts.append(len(seen))
    assert counts[0] == counts[1] <= 26


def test_a_refused_clip_can_be_let_in_by_the_coach(cast: Cast) -> None:
    submission = factories.make_submission(cast.student, cast.cohort, state=SubmissionState.REFILM)
    clip = factories.make_clip(
        submission, state=ClipState.REFUSED, refused_code="too_dark", refused_text="It is too dark."
    )
    Review.objects.create(submission=submission, created_at=NOW)
    client, address = signed_in(cast.coach), reverse("coach:student", args=[place_of(cast).public_id])
    assert "It is too dark." in client.get(address).content.decode()
    response = client.post(reverse("coach:allow-clip", args=[clip.public_id]), {"back": address})
    assert response.url == address
    clip.refresh_from_db()
    submission.refresh_from_db()
    assert (clip.state, submission.state) == (ClipState.USABLE, SubmissionState.USABLE)
    review = Review.objects.get()
    assert review.state == ReviewState.WAITING
    assert review.due_at is not None


# The thread


def test_the_thread_is_read_in_order_and_new_words_are_marked_once(cast: Cast) -> None:
    thread = thread_for(cast.student, cast.camp, now=NOW)
    post_message(thread, by=cast.student, text="first <b>word</b>", now=NOW)
    post_message(thread, by=cast.student, text="second word", now=NOW)
    client, address = signed_in(cast.coach), reverse("coach:thread", args=[thread.public_id])
    text = client.get(address).content.decode()
    assert text.index("first &lt;b&gt;word") < text.index("second word")
    assert text.count("new-mark") == 2
    assert client.get(address).content.decode().count("new-mark") == 0
    assert ThreadRead.objects.filter(user=cast.coach).count() == 1


def test_a_coachs_word_answers_the_reply_and_twice_is_once(cast: Cast) -> None:
    review = answered(cast)
    thread = thread_for(cast.student, cast.camp, now=NOW)
    post_message(thread, by=cast.student, text="I don't get it", now=NOW)
    review.refresh_from_db()
    assert review.reply_waiting_since is not None
    client, sent = signed_in(cast.coach), {"text": "Think of the turf.", "token": str(uuid.uuid4())}
    for _ in range(2):
        response = client.post(reverse("coach:write", args=[thread.public_id]), sent)
        assert response.url == reverse("coach:thread", args=[thread.public_id])
    assert Message.objects.filter(text="Think of the turf.").count() == 1
    review.refresh_from_db()
    assert review.reply_waiting_since is None


@pytest.mark.parametrize("text", ["", "   ", "x" * 4001])
def test_an_impossible_message_is_refused_and_kept_in_the_form(cast: Cast, text: str) -> None:
    thread = thread_for(cast.student, cast.camp, now=NOW)
    response = signed_in(cast.coach).post(reverse("coach:write", args=[thread.public_id]), {"text": text})
    assert response.status_code == 422
    assert "errorlist" in response.content.decode()
    assert not Message.objects.exists()


def test_the_first_message_makes_the_thread(cast: Cast) -> None:
    client, place = signed_in(cast.coach), place_of(cast)
    empty = client.post(reverse("coach:write-first", args=[place.public_id]), {"text": ""}, follow=True)
    assert "Write something first" in empty.content.decode()
    response = client.post(reverse("coach:write-first", args=[place.public_id]), {"text": "Welcome!"})
    message = Message.objects.get()
    assert message.thread.student == cast.student
    assert response.url == reverse("coach:thread", args=[message.thread.public_id])
