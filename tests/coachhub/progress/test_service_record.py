from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from coachhub.camps.models import Membership
from coachhub.common.domain.events import record
from coachhub.feedback.domain.clock import pause_clock, resume_clock, start_clock, stop_clock
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.progress.domain.service_record import service_record
from coachhub.videos.enums import ClipState
from tests import factories
from tests.cast import Cast, make_cast

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
# A Monday; the camp's zone is Tokyo, its promise 48 hours, its rest day Sunday.
MONDAY = datetime(2026, 6, 8, 0, 0, tzinfo=UTC)


def after(hours: float) -> datetime:
    return MONDAY + timedelta(hours=hours)


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def member(cast: Cast) -> Membership:
    return Membership.objects.get(user=cast.student, cohort=cast.cohort)


def answered(cast: Cast) -> Review:
    """Hours: received 0, usable 1, asked 11, the student wrote 21, published 40, opened 45."""
    submission = factories.make_submission(
        cast.student, cast.cohort, state="answered", sent_at=after(0), settled_at=after(1)
    )
    clip = factories.make_clip(
        submission, state=ClipState.REFUSED, refused_code="too_dark", refused_text="It is too dark."
    )
    factories.make_clip(submission)
    record("clip.refused", clip, by=None, now=after(0.5), scope=cast.camp.public_id, code="too_dark")
    review = factories.make_review(submission)
    start_clock(review, now=after(1))
    pause_clock(review, reason="a question to the student", now=after(11))
    resume_clock(review, reason="the student wrote", now=after(21))
    stop_clock(review, now=after(40))
    Review.objects.filter(pk=review.pk).update(
        state=ReviewState.PUBLISHED,
        published_at=after(40),
        published_by=cast.coach,
        opened_at=after(45),
    )
    return review


def test_the_whole_way_of_one_submission(cast: Cast) -> None:
    answered(cast)
    (row,) = service_record(member(cast), now=after(100))
    assert (row.received_at, row.clock_from, row.delivered_at, row.opened_at) == (
        after(0),
        after(1),
        after(40),
        after(45),
    )
    assert [(one.clip, one.at, one.reason) for one in row.refusals] == [(1, after(0.5), "It is too dark.")]
    assert [(one.since, one.until, one.reason) for one in row.pauses] == [
        (after(11), after(21), "a question to the student")
    ]
    # By hand: from 1 h to 40 h are 39, of which 10 stood still; promised 48 running hours after 1 h: 59 h.
    assert row.hours == pytest.approx(29.0)
    assert row.promised_at == after(59) and not row.is_late
    assert row.delivered_by == cast.coach.name


def test_what_waits_is_late_from_the_promised_minute_on(cast: Cast) -> None:
    submission = factories.make_submission(cast.student, cast.cohort, sent_at=after(0), settled_at=after(1))
    start_clock(factories.make_review(submission), now=after(1))
    at = {hours: service_record(member(cast), now=after(hours))[0].is_late for hours in (48.9, 49.1)}
    assert at == {48.9: False, 49.1: True}


def test_a_pause_that_lasts_has_no_end_and_no_promise(cast: Cast) -> None:
    submission = factories.make_submission(cast.student, cast.cohort, sent_at=after(0), settled_at=after(1))
    review = factories.make_review(submission)
    start_clock(review, now=after(1))
    pause_clock(review, reason="filmed again", now=after(3))
    (row,) = service_record(member(cast), now=after(80))
    assert row.pauses[0].until is None and row.promised_at is None and not row.is_late
    assert row.hours == pytest.approx(2.0)


def test_a_clip_that_a_coach_allowed_later_is_still_told(cast: Cast) -> None:
    submission = factories.make_submission(cast.student, cast.cohort)
    clip = factories.make_clip(submission)
    record("clip.refused", clip, by=None, now=after(1), scope=cast.camp.public_id, code="no_swing")
    (row,) = service_record(member(cast), now=after(2))
    assert [(one.reason, one.allowed_later) for one in row.refusals] == [("no swing", True)]


def test_drafts_and_other_students_are_not_in_it(cast: Cast) -> None:
    factories.make_submission(cast.student, cast.cohort, state="open", sent_at=None)
    factories.make_submission(cast.cohort_mate, cast.cohort)
    assert service_record(member(cast), now=after(1)) == []


def test_ten_submissions_cost_as_many_queries_as_one(cast: Cast, django_assert_num_queries: Any) -> None:
    for _ in range(10):
        answered(cast)
    place = Membership.objects.select_related("camp", "user").get(pk=member(cast).pk)
    with django_assert_num_queries(4):
        assert len(service_record(place, now=after(100))) == 10
