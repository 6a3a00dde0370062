from __future__ import annotations

from datetime import datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.core import mail

from coachhub.accounts.domain.notices import send_waiting
from coachhub.accounts.models import Notice, User
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.common.models import Event
from coachhub.feedback.domain import reviews
from coachhub.feedback.domain.mailing import tell_of_answer, untold
from coachhub.feedback.domain.revisions import Attempt
from coachhub.feedback.domain.threads import post_lesson, post_message
from coachhub.feedback.enums import ClockMove, MessageKind, ReviewState
from coachhub.feedback.models import ClockEvent, Message, Review
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
HOUR = timedelta(hours=1)


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def second_coach(cast: Cast) -> User:
    user = factories.make_user("Bo Second")
    factories.join(user, cast.cohort, "coach")
    return user


def sent(cast: Cast, **fields: object) -> Submission:
    fields = {"state": SubmissionState.SENT, "settled_at": None} | fields
    return factories.make_submission(cast.student, cast.cohort, **fields)


def waiting(cast: Cast, **fields: object) -> Review:
    """A review that came the whole way into the queue."""
    submission = sent(cast, **fields)
    reviews.expect_review(submission, now=NOW)
    Submission.objects.filter(pk=submission.pk).update(state=SubmissionState.USABLE)
    submission.refresh_from_db()
    return reviews.submission_settled(submission, now=NOW)


def claimed(cast: Cast, **fields: object) -> Review:
    return reviews.claim_review(waiting(cast, **fields), by=cast.coach, now=NOW)


# Arriving


def test_expected_review_carries_pain_red_flags_and_first(cast: Cast) -> None:
    plain = reviews.expect_review(sent(cast), now=NOW)
    assert (plain.state, plain.has_pain, plain.has_red_flag, plain.is_first) == (
        ReviewState.COMING,
        False,
        False,
        True,
    )
    hurting = reviews.expect_review(sent(cast, pain_today=True, red_flags=["numb"]), now=NOW)
    assert (hurting.has_pain, hurting.has_red_flag, hurting.is_first) == (True, True, False)


def test_pain_of_the_latest_intake_counts_and_of_an_older_one_does_not(cast: Cast) -> None:
    factories.make_intake(
        cast.student, pain="now", pain_sites=["wrist"], created_at=NOW + timedelta(minutes=1)
    )
    assert reviews.expect_review(sent(cast), now=NOW).has_pain
    factories.make_intake(cast.student, pain="none", created_at=NOW + timedelta(minutes=2))
    assert not reviews.expect_review(sent(cast), now=NOW).has_pain


def test_expecting_twice_is_one_review(cast: Cast) -> None:
    submission = sent(cast)
    first, second = (reviews.expect_review(submission, now=NOW) for _ in range(2))
    assert first.pk == second.pk
    assert Event.objects.filter(verb="review.expected").count() == 1


def test_usable_submission_waits_and_its_clock_runs_in_the_camps_zone(cast: Cast) -> None:
    # Wednesday 18:30 in Tokyo plus 48 h: Friday 18:30; Sunday is the rest day.
    review = waiting(cast)
    assert review.state == ReviewState.WAITING
    assert review.due_at == datetime(2026, 6, 12, 18, 30, tzinfo=ZoneInfo("Asia/Tokyo"))
    assert [event.move for event in review.clock.all()] == [ClockMove.START]


def test_settling_twice_starts_one_clock(cast: Cast) -> None:
    review = waiting(cast)
    again = reviews.submission_settled(review.submission, now=NOW + HOUR)
    assert again.due_at == review.due_at
    assert ClockEvent.objects.count() == 1


def test_a_submission_to_film_again_does_not_join_the_queue(cast: Cast) -> None:
    submission = sent(cast, state=SubmissionState.REFILM)
    review = reviews.submission_settled(submission, now=NOW)
    assert (review.state, review.due_at) == (ReviewState.COMING, None)


def test_taken_back_leaves_the_queue_and_stops_the_clock(cast: Cast) -> None:
    review = claimed(cast)
    reviews.drop_review(review.submission, now=NOW + HOUR)
    review.refresh_from_db()
    assert (review.state, review.claimed_by) == (ReviewState.DROPPED, None)
    assert review.clock.last().move == ClockMove.STOP  # type: ignore[union-attr]
    with pytest.raises(RuleBroken, match="took this back"):
        reviews.claim_review(review, by=cast.coach, now=NOW)


def test_new_pain_answers_raise_the_flags_of_what_waits(cast: Cast) -> None:
    review = waiting(cast)
    factories.make_intake(cast.student, pain="now", red_flags=["numb"], created_at=NOW + HOUR)
    assert reviews.health_changed(cast.student, now=NOW + HOUR) == 1
    review.refresh_from_db()
    assert (review.has_red_flag, review.has_pain) == (True, True)
    assert reviews.health_changed(cast.student, now=NOW + HOUR) == 0


# Taking


def test_of_two_coaches_one_gets_the_review(cast: Cast, second_coach: User) -> None:
    review = waiting(cast)
    reviews.claim_review(review, by=cast.coach, now=NOW)
    with pytest.raises(RuleBroken, match="Ines Coach is reviewing"):
        reviews.claim_review(review, by=second_coach, now=NOW + HOUR)
    review.refresh_from_db()
    assert review.claimed_by == cast.coach


def test_claiming_again_is_quiet(cast: Cast) -> None:
    review = claimed(cast)
    reviews.claim_review(review, by=cast.coach, now=NOW + HOUR)
    assert Event.objects.filter(verb="review.claimed").count() == 1


def test_a_claim_left_lying_for_two_hours_can_be_taken_over(cast: Cast, second_coach: User) -> None:
    review = claimed(cast)
    with pytest.raises(RuleBroken):
        reviews.claim_review(review, by=second_coach, now=NOW + 2 * HOUR)
    taken = reviews.claim_review(review, by=second_coach, now=NOW + 2 * HOUR + timedelta(seconds=1))
    assert taken.claimed_by == second_coach


def test_working_on_a_draft_keeps_the_claim_alive(cast: Cast, second_coach: User) -> None:
    review = claimed(cast)
    reviews.save_draft(review, {"cue": "brush"}, revision=0, by=cast.coach, now=NOW + HOUR)
    with pytest.raises(RuleBroken):
        reviews.claim_review(review, by=second_coach, now=NOW + 2.5 * HOUR)


def test_a_coach_of_another_cohort_cannot_claim(cast: Cast) -> None:
    review = waiting(cast)
    for stranger in (cast.coach_elsewhere, cast.organiser, cast.student):
        with pytest.raises(RuleBroken, match="Only a coach"):
            reviews.claim_review(review, by=stranger, now=NOW)
    review.refresh_from_db()
    assert review.state == ReviewState.WAITING


def test_released_reviews_wait_again_with_their_draft(cast: Cast) -> None:
    review = claimed(cast)
    reviews.save_draft(review, {"priority": "Chest turns on"}, revision=0, by=cast.coach, now=NOW)
    reviews.release_review(review, by=cast.coach, now=NOW)
    assert (review.state, review.claimed_by, review.priority) == (
        ReviewState.WAITING,
        None,
        "Chest turns on",
    )


def test_nobody_releases_anothers_review(cast: Cast, second_coach: User) -> None:
    review = claimed(cast)
    reviews.release_review(review, by=second_coach, now=NOW)
    assert review.claimed_by == cast.coach


def test_deferred_until_later_but_not_for_ever_and_never_with_a_red_flag(cast: Cast) -> None:
    review = claimed(cast)
    reviews.defer_review(review, until=NOW + 5 * HOUR, by=cast.coach, now=NOW)
    assert (review.state, review.deferred_by) == (ReviewState.WAITING, cast.coach)
    for wrong in (NOW, NOW - HOUR, NOW + timedelta(days=7, seconds=1)):
        with pytest.raises(RuleBroken, match="Choose a time"):
            reviews.defer_review(review, until=wrong, by=cast.coach, now=NOW)
    flagged = waiting(cast, red_flags=["fall"])
    with pytest.raises(RuleBroken, match="pain alert"):
        reviews.defer_review(flagged, until=NOW + HOUR, by=cast.coach, now=NOW)


def test_deferring_does_not_move_the_promise(cast: Cast) -> None:
    review = waiting(cast)
    due = review.due_at
    reviews.defer_review(review, until=NOW + 5 * HOUR, by=cast.coach, now=NOW)
    assert review.due_at == due


def test_hand_over_goes_to_a_coach_of_the_cohort_with_a_private_note(cast: Cast, second_coach: User) -> None:
    review = claimed(cast)
    reviews.hand_over(review, to=second_coach, note="Please look at the grip.", by=cast.coach, now=NOW)
    assert (review.claimed_by, review.private_note) == (second_coach, "Ines Coach: Please look at the grip.")
    with pytest.raises(RuleBroken, match="Bo Second is reviewing"):
        reviews.hand_over(review, to=second_coach, note="", by=cast.coach, now=NOW)


def test_hand_over_to_somebody_outside_changes_nothing(cast: Cast) -> None:
    review = claimed(cast)
    for stranger in (cast.coach_elsewhere, cast.organiser, cast.student):
        with pytest.raises(RuleBroken, match="does not coach"):
            reviews.hand_over(review, to=stranger, note="x", by=cast.coach, now=NOW)
    review.refresh_from_db()
    assert (review.claimed_by, review.private_note) == (cast.coach, "")


# Writing


def test_a_draft_of_an_old_page_is_refused_and_changes_nothing(cast: Cast) -> None:
    review = claimed(cast)
    reviews.save_draft(review, {"cue": "first"}, revision=0, by=cast.coach, now=NOW)
    with pytest.raises(Stale):
        reviews.save_draft(review, {"cue": "second"}, revision=0, by=cast.coach, now=NOW)
    review.refresh_from_db()
    assert (review.cue, review.revision) == ("first", 1)


def test_a_save_whose_answer_got_lost_is_no_strangers(cast: Cast) -> None:
    """The tab never learnt revision 1, and goes on from its own save; what another tab saved still stands."""
    review, lost, unheard, later = claimed(cast), uuid4(), uuid4(), uuid4()
    reviews.save_draft(review, {"cue": "first"}, revision=0, by=cast.coach, now=NOW, attempt=Attempt(lost))
    saved = reviews.save_draft(
        review,
        {"cue": "second"},
        revision=0,
        by=cast.coach,
        now=NOW,
        attempt=Attempt(later, after=(lost, unheard)),
    )
    assert (saved.revision, saved.cue) == (2, "second")
    # The first one arriving late, from somewhere on the way, overwrites nothing.
    with pytest.raises(Stale):
        reviews.save_draft(
            review, {"cue": "first"}, revision=0, by=cast.coach, now=NOW, attempt=Attempt(lost)
        )
    reviews.save_draft(
        review, {"cue": "elsewhere"}, revision=2, by=cast.coach, now=NOW, attempt=Attempt(uuid4())
    )
    with pytest.raises(Stale):
        reviews.save_draft(
            review,
            {"cue": "third"},
            revision=0,
            by=cast.coach,
            now=NOW,
            attempt=Attempt(uuid4(), after=(lost, later)),
        )


def test_only_who_holds_the_review_writes(cast: Cast, second_coach: User) -> None:
    review = waiting(cast)
    with pytest.raises(RuleBroken, match="Take this review first"):
        reviews.save_draft(review, {"cue": "x"}, revision=0, by=cast.coach, now=NOW)
    reviews.claim_review(review, by=cast.coach, now=NOW)
    with pytest.raises(RuleBroken, match="Ines Coach is reviewing"):
        reviews.save_draft(review, {"cue": "x"}, revision=0, by=second_coach, now=NOW)


def test_a_text_too_long_for_its_place_is_said_so(cast: Cast) -> None:
    with pytest.raises(RuleBroken, match="can have 200 characters; yours has 201"):
        reviews.save_draft(claimed(cast), {"cue": "x" * 201}, revision=0, by=cast.coach, now=NOW)


def test_a_drill_of_another_camp_is_refused(cast: Cast) -> None:
    foreign = factories.make_drill(camp=cast.other_camp)
    with pytest.raises(RuleBroken, match="library"):
        reviews.save_draft(claimed(cast), {"drill": foreign}, revision=0, by=cast.coach, now=NOW)


def test_fields_that_are_not_of_the_draft_are_refused(cast: Cast) -> None:
    with pytest.raises(ValueError, match="state"):
        reviews.save_draft(claimed(cast), {"state": "published"}, revision=0, by=cast.coach, now=NOW)


# Publishing


def ready(cast: Cast, **fields: object) -> Review:
    review = claimed(cast, **fields)
    return reviews.save_draft(
        review, {"priority": "Let the chest turn on"}, revision=0, by=cast.coach, now=NOW
    )


def test_publishing_answers_once(cast: Cast, django_capture_on_commit_callbacks: object) -> None:
    review = ready(cast)
    with django_capture_on_commit_callbacks() as callbacks:  # type: ignore[operator]
        first = reviews.publish_review(review, by=cast.coach, now=NOW + HOUR)
        second = reviews.publish_review(review, by=cast.coach, now=NOW + 2 * HOUR)
    assert (first.state, second.published_at) == (ReviewState.PUBLISHED, NOW + HOUR)
    assert len(callbacks) == 1
    message = Message.objects.get()
    assert (message.kind, message.review, message.text) == (
        MessageKind.FEEDBACK,
        first,
        "Let the chest turn on",
    )
    assert [event.move for event in first.clock.all()] == [ClockMove.START, ClockMove.STOP]
    assert Event.objects.filter(verb="review.published").count() == 1
    review.submission.refresh_from_db()
    assert review.submission.state == SubmissionState.ANSWERED


def test_nothing_goes_out_empty_unheld_or_stale(cast: Cast, second_coach: User) -> None:
    review = claimed(cast)
    with pytest.raises(RuleBroken, match="one thing"):
        reviews.publish_review(review, by=cast.coach, now=NOW)
    reviews.save_draft(review, {"words": "Good."}, revision=0, by=cast.coach, now=NOW)
    with pytest.raises(RuleBroken, match="Ines Coach is reviewing"):
        reviews.publish_review(review, by=second_coach, now=NOW)
    with pytest.raises(Stale):
        reviews.publish_review(review, by=cast.coach, now=NOW, revision=0)
    assert not Message.objects.exists()
    assert reviews.publish_review(review, by=cast.coach, now=NOW, revision=1).state == ReviewState.PUBLISHED


def test_no_drill_goes_out_over_a_red_flag(cast: Cast) -> None:
    review = ready(cast)
    drill = factories.make_drill()
    reviews.save_draft(review, {"drill": drill}, revision=1, by=cast.coach, now=NOW)
    # The flag came after the submission was sent.
    factories.make_intake(cast.student, red_flags=["night"], created_at=NOW + HOUR)
    with pytest.raises(RuleBroken, match="clinician"):
        reviews.publish_review(review, by=cast.coach, now=NOW + HOUR)
    reviews.save_draft(review, {"drill": None}, revision=2, by=cast.coach, now=NOW + HOUR)
    assert reviews.publish_review(review, by=cast.coach, now=NOW + HOUR).drill is None


def test_an_answer_is_opened_once_by_its_student_only(cast: Cast) -> None:
    review = reviews.publish_review(ready(cast), by=cast.coach, now=NOW)
    assert not reviews.mark_opened(review, by=cast.coach, now=NOW)
    assert reviews.mark_opened(review, by=cast.student, now=NOW + HOUR)
    assert not reviews.mark_opened(review, by=cast.student, now=NOW + 2 * HOUR)
    review.refresh_from_db()
    assert review.opened_at == NOW + HOUR


def test_an_answer_is_told_once_and_its_letter_says_nothing_personal(cast: Cast) -> None:
    review = reviews.publish_review(ready(cast), by=cast.coach, now=NOW)
    assert tell_of_answer(review.pk, now=NOW)
    assert not tell_of_answer(review.pk, now=NOW)
    assert send_waiting(NOW + timedelta(minutes=3)) == 1
    [letter] = mail.outbox
    assert letter.to == [cast.student.email]
    whole = letter.subject + str(letter.body)
    for private in (cast.student.name, cast.student.email, cast.coach.name, review.priority, cast.camp.name):
        assert private not in whole
    assert str(review.public_id) in letter.body


def test_what_a_dead_worker_left_is_told_later(cast: Cast) -> None:
    review = reviews.publish_review(ready(cast), by=cast.coach, now=NOW)
    assert untold(NOW + timedelta(minutes=3)) == [review.pk]
    assert tell_of_answer(review.pk, now=NOW)
    assert untold(NOW + timedelta(minutes=3)) == []


def test_what_a_coach_writes_is_told_and_what_a_student_writes_is_not(cast: Cast) -> None:
    thread = factories.make_thread(cast.student, cast.cohort)
    post_message(thread, by=cast.student, text="hello", now=NOW)
    post_message(thread, by=cast.coach, text="hello to you", now=NOW)
    assert list(Notice.objects.values_list("person", "kind")) == [(cast.student.pk, "message")]
    post_lesson(thread, by=cast.coach, text="for everybody", now=NOW)
    assert Notice.objects.filter(person=cast.student, kind="lesson").count() == 1


def test_a_reply_may_need_no_answer(cast: Cast) -> None:
    review = reviews.publish_review(ready(cast), by=cast.coach, now=NOW)
    Review.objects.filter(pk=review.pk).update(reply_waiting_since=NOW)
    assert reviews.settle_reply(review, by=cast.coach, now=NOW)
    assert not reviews.settle_reply(review, by=cast.coach, now=NOW)
