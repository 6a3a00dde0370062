from __future__ import annotations

import threading
import time
import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection, transaction

from coachhub.accounts.models import Notice, User
from coachhub.camps.enums import CampState, MemberState
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.videos.domain.submissions import (
    amend_submission,
    last_submission,
    open_submission,
    send_submission,
    settle_submission,
    withdraw_submission,
)
from coachhub.videos.enums import SUBMISSION_MOVES, ClipState, SubmissionState
from coachhub.videos.models import Clip, Submission
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]
DAY = date(2026, 6, 9)


@pytest.fixture
def cohort(db: None) -> Cohort:
    return factories.make_cohort()


@pytest.fixture
def student(cohort: Cohort) -> User:
    return factories.make_student(cohort)


def begin(student: User, cohort: Cohort, **answers: Any) -> Submission:
    given: dict[str, Any] = {"range_day": DAY, "club_class": "iron", "now": NOW}
    return open_submission(student, cohort, **given | answers)


def with_clips(submission: Submission, *states: str) -> list[Clip]:
    return [factories.make_clip(submission, state=state) for state in states]


def refusal(code: str, verb: Any, *args: Any, **kwargs: Any) -> None:
    with pytest.raises(RuleBroken) as caught:
        verb(*args, **kwargs)
    assert caught.value.code == code


class TestOpen:
    def test_keeps_what_was_said(self, student: User, cohort: Cohort) -> None:
        said = {
            "miss_start": "left",
            "miss_curve": "right",
            "miss_strike": "thin",
            "miss_height": "low",
            "intents": ["bel_lift", "bel_lift", "other"],
            "intent_words": "  help it up ",
            "note": "windy",
        }
        submission = begin(student, cohort, **said)
        submission.refresh_from_db()
        assert submission.state == SubmissionState.OPEN
        assert (submission.camp, submission.cohort, submission.student) == (cohort.camp, cohort, student)
        assert submission.intents == ["bel_lift", "other"]
        assert (submission.intent_words, submission.note) == ("help it up", "windy")
        assert submission.pain_today is False
        assert [event.verb for event in Event.objects.all()] == ["submission.opened"]

    def test_the_same_form_sent_twice_begins_one(self, student: User, cohort: Cohort) -> None:
        token = uuid.uuid4()
        first = begin(student, cohort, public_id=token)
        second = begin(student, cohort, public_id=token, club_class="driver")
        assert first == second
        assert second.club_class == "driver"
        Submission.objects.update(state=SubmissionState.SENT)
        assert begin(student, cohort, public_id=token, club_class="wedge").club_class == "driver"
        assert Submission.objects.count() == 1
        assert Event.objects.count() == 1

    def test_somebody_elses_id_is_not_taken_over(self, student: User, cohort: Cohort) -> None:
        mate = factories.make_student(cohort)
        hers = begin(mate, cohort)
        own = begin(student, cohort, public_id=hers.public_id)
        assert own.public_id != hers.public_id
        assert own.student == student

    @pytest.mark.parametrize(
        "answers",
        [{"pain_words": "my thumb"}, {"red_flags": ["night"]}, {"pain_today": True}],
    )
    def test_any_word_of_pain_counts_as_pain(
        self, student: User, cohort: Cohort, answers: dict[str, Any]
    ) -> None:
        assert begin(student, cohort, **answers).pain_today is True

    @pytest.mark.parametrize(
        ("answers", "named"),
        [
            ({"club_class": "putter"}, "club_class"),
            ({"miss_start": "up"}, "miss_start"),
            ({"intents": ["bel_lift", "nonsense"]}, "intents"),
            ({"red_flags": ["hunger"]}, "red_flags"),
            ({"note": "x" * 2001}, "note"),
            ({"intent_words": "x" * 1001}, "intent_words"),
        ],
    )
    def test_a_value_outside_its_range_is_named(
        self, student: User, cohort: Cohort, answers: dict[str, Any], named: str
    ) -> None:
        with pytest.raises(ValueError, match=f"^{named} must "):
            begin(student, cohort, **answers)
        assert Submission.objects.count() == 0

    def test_days_ahead_and_long_gone_are_refused(self, student: User, cohort: Cohort) -> None:
        refusal("future_day", begin, student, cohort, range_day=NOW.date() + timedelta(days=2))
        refusal("old_day", begin, student, cohort, range_day=NOW.date() - timedelta(days=70))
        assert begin(student, cohort, range_day=NOW.date() - timedelta(days=60)).pk

    def test_today_in_the_far_east_is_no_future_day(self, student: User, cohort: Cohort) -> None:
        evening = NOW.replace(hour=20)
        assert begin(student, cohort, range_day=date(2026, 6, 11), now=evening).pk

    def test_only_a_present_student_of_the_cohort(self, student: User, cohort: Cohort) -> None:
        refusal("not_in_cohort", begin, student, factories.make_cohort())
        refusal("not_in_cohort", begin, factories.make_user(), cohort)
        place = Membership.objects.filter(user=student)
        place.update(state=MemberState.PAUSED)
        refusal("paused", begin, student, cohort)
        place.update(state=MemberState.LEFT)
        refusal("not_in_cohort", begin, student, cohort)

    def test_not_in_a_closed_camp_nor_without_the_intake(self, student: User, cohort: Cohort) -> None:
        student.intakes.all().delete()
        refusal("no_intake", begin, student, cohort)
        Camp.objects.filter(pk=cohort.camp_id).update(state=CampState.CLOSED)
        refusal("camp_closed", begin, student, Cohort.objects.get(pk=cohort.pk))


class TestAmend:
    def test_changes_what_is_not_sent(self, student: User, cohort: Cohort) -> None:
        submission = begin(student, cohort)
        amend_submission(submission, by=student, now=NOW, range_day=DAY, club_class="wedge")
        assert submission.club_class == "wedge"

    def test_not_once_it_is_sent_nor_by_others(self, student: User, cohort: Cohort) -> None:
        sent = factories.make_submission(student, cohort, state=SubmissionState.SENT)
        refusal("sent", amend_submission, sent, by=student, now=NOW, range_day=DAY, club_class="wedge")
        draft = begin(student, cohort)
        mate = factories.make_student(cohort)
        refusal("not_yours", amend_submission, draft, by=mate, now=NOW, range_day=DAY, club_class="wedge")


class TestSend:
    def test_needs_a_clip(self, student: User, cohort: Cohort) -> None:
        submission = begin(student, cohort)
        refusal("no_clip", send_submission, submission, by=student, now=NOW)
        submission.refresh_from_db()
        assert submission.state == SubmissionState.OPEN

    def test_goes_to_the_coach_once(self, student: User, cohort: Cohort) -> None:
        submission = begin(student, cohort)
        with_clips(submission, ClipState.RECEIVED)
        first = send_submission(submission, by=student, now=NOW)
        again = send_submission(submission, by=student, now=NOW + timedelta(hours=1))
        assert first.state == again.state == SubmissionState.SENT
        assert again.sent_at == NOW
        assert Review.objects.get().state == ReviewState.COMING
        assert Event.objects.filter(verb="submission.sent").count() == 1

    def test_with_judged_clips_it_is_settled_at_once(self, student: User, cohort: Cohort) -> None:
        submission = begin(student, cohort)
        with_clips(submission, ClipState.USABLE, ClipState.REFUSED)
        sent = send_submission(submission, by=student, now=NOW)
        assert (sent.state, sent.settled_at) == (SubmissionState.USABLE, NOW)
        assert Review.objects.get().state == ReviewState.WAITING

    def test_pain_reaches_the_queue(self, student: User, cohort: Cohort) -> None:
        submission = begin(student, cohort, red_flags=["numb"])
        with_clips(submission, ClipState.USABLE)
        send_submission(submission, by=student, now=NOW)
        review = Review.objects.get()
        assert (review.has_pain, review.has_red_flag) == (True, True)

    def test_not_by_others_nor_after_taking_back_nor_when_paused(self, student: User, cohort: Cohort) -> None:
        submission = begin(student, cohort)
        with_clips(submission, ClipState.USABLE)
        refusal("not_yours", send_submission, submission, by=factories.make_student(cohort), now=NOW)
        Membership.objects.filter(user=student).update(state=MemberState.PAUSED)
        refusal("paused", send_submission, submission, by=student, now=NOW)
        withdraw_submission(submission, by=student, now=NOW)
        refusal("withdrawn", send_submission, submission, by=student, now=NOW)
        assert not Review.objects.exclude(state=ReviewState.DROPPED).exists()


class TestSettle:
    # What the clips say and what follows, by hand.
    TABLE = (
        ([ClipState.RECEIVED], SubmissionState.SENT),
        ([ClipState.PLAYABLE, ClipState.USABLE], SubmissionState.SENT),
        ([ClipState.REFUSED, ClipState.RECEIVED], SubmissionState.SENT),
        ([ClipState.USABLE], SubmissionState.USABLE),
        ([ClipState.USABLE, ClipState.REFUSED], SubmissionState.USABLE),
        ([ClipState.REFUSED], SubmissionState.REFILM),
        ([ClipState.REFUSED, ClipState.REFUSED], SubmissionState.REFILM),
    )

    @pytest.mark.parametrize(("states", "expected"), TABLE)
    def test_by_the_clips(self, student: User, cohort: Cohort, states: list[str], expected: str) -> None:
        submission = factories.make_submission(student, cohort, state=SubmissionState.SENT, settled_at=None)
        with_clips(submission, *states)
        assert settle_submission(submission, now=NOW).state == expected

    def test_twice_changes_nothing_more(self, student: User, cohort: Cohort) -> None:
        submission = factories.make_submission(student, cohort, state=SubmissionState.SENT, settled_at=None)
        with_clips(submission, ClipState.USABLE)
        settle_submission(submission, now=NOW)
        settle_submission(submission, now=NOW + timedelta(hours=3))
        submission.refresh_from_db()
        assert submission.settled_at == NOW
        assert Event.objects.filter(verb="submission.usable").count() == 1

    def test_filming_again_goes_on_with_the_same_submission(self, student: User, cohort: Cohort) -> None:
        submission = begin(student, cohort)
        with_clips(submission, ClipState.REFUSED)
        sent = send_submission(submission, by=student, now=NOW)
        assert sent.state == SubmissionState.REFILM
        told = Notice.objects.get()
        assert (told.person, told.kind, told.path) == (student, "refilm", f"/my/sent/{sent.public_id}/")
        assert Review.objects.get().state == ReviewState.COMING
        (again,) = with_clips(submission, ClipState.RECEIVED)
        checked = settle_submission(submission, now=NOW)
        assert (checked.state, checked.settled_at) == (SubmissionState.SENT, None)
        Clip.objects.filter(pk=again.pk).update(state=ClipState.USABLE)
        assert settle_submission(submission, now=NOW).state == SubmissionState.USABLE
        assert Review.objects.get().state == ReviewState.WAITING

    @pytest.mark.parametrize(
        "state",
        [SubmissionState.OPEN, SubmissionState.USABLE, SubmissionState.ANSWERED, SubmissionState.WITHDRAWN],
    )
    def test_leaves_the_others_alone(self, student: User, cohort: Cohort, state: str) -> None:
        submission = factories.make_submission(student, cohort, state=state)
        with_clips(submission, ClipState.REFUSED)
        assert settle_submission(submission, now=NOW).state == state
        assert Event.objects.count() == 0


class TestWithdraw:
    @pytest.mark.parametrize("state", sorted(SUBMISSION_MOVES))
    def test_before_the_answer_only(self, student: User, cohort: Cohort, state: str) -> None:
        submission = factories.make_submission(student, cohort, state=state)
        if state == SubmissionState.ANSWERED:
            refusal("answered", withdraw_submission, submission, by=student, now=NOW)
            return
        assert withdraw_submission(submission, by=student, now=NOW).state == SubmissionState.WITHDRAWN

    def test_drops_the_review(self, student: User, cohort: Cohort) -> None:
        submission = begin(student, cohort)
        with_clips(submission, ClipState.USABLE)
        send_submission(submission, by=student, now=NOW)
        withdraw_submission(submission, by=student, now=NOW)
        withdraw_submission(submission, by=student, now=NOW)
        assert Review.objects.get().state == ReviewState.DROPPED
        assert Event.objects.filter(verb="submission.withdrawn").count() == 1

    def test_not_by_others(self, student: User, cohort: Cohort) -> None:
        submission = begin(student, cohort)
        refusal("not_yours", withdraw_submission, submission, by=factories.make_student(cohort), now=NOW)


def test_the_last_one_is_by_range_day_and_never_one_taken_back(student: User, cohort: Cohort) -> None:
    factories.make_submission(student, cohort, range_day=date(2026, 6, 1))
    latest = factories.make_submission(student, cohort, range_day=date(2026, 6, 5))
    factories.make_submission(student, cohort, range_day=date(2026, 6, 8), state=SubmissionState.WITHDRAWN)
    assert last_submission(student, cohort.camp) == latest
    assert last_submission(student, factories.make_camp()) is None


@pytest.mark.scaled
@pytest.mark.integration
@pytest.mark.django_db(transaction=True)
def test_two_clips_that_end_at_the_same_moment_settle_their_submission() -> None:
    cohort = factories.make_cohort()
    submission = factories.make_submission(
        factories.make_student(cohort), cohort, state=SubmissionState.SENT, settled_at=None
    )
    clips = with_clips(submission, ClipState.PLAYABLE, ClipState.PLAYABLE)
    both_written = threading.Barrier(2, timeout=20)

    def end(clip: Clip) -> None:
        try:
            with transaction.atomic():
                Clip.objects.filter(pk=clip.pk).update(state=ClipState.USABLE)
                both_written.wait()
                settle_submission(submission, now=NOW)
                # Neither is committed while the other one looks, unless it had to wait for the lock.
                time.sleep(0.5)
        finally:
            connection.close()

    workers = [threading.Thread(target=end, args=(clip,)) for clip in clips]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    submission.refresh_from_db()
    assert submission.state == SubmissionState.USABLE
    assert Event.objects.filter(verb="submission.usable").count() == 1
