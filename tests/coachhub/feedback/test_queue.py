from __future__ import annotations

import itertools
from datetime import datetime, timedelta

import pytest

from coachhub.accounts.models import User
from coachhub.feedback.domain.queue import Pile, Reason, Wanted, by_student, count, queue_of, reasons_of
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
HOUR = timedelta(hours=1)
ALL = Wanted()


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def waiting(cast: Cast, due: float = 10, student: User | None = None, **fields: object) -> Review:
    """A waiting review that is promised in ``due`` hours."""
    submission = factories.make_submission(student or cast.student, cast.cohort)
    return factories.make_review(submission, **{"due_at": NOW + due * HOUR, **fields})


def published(cast: Cast, **fields: object) -> Review:
    done = {"state": ReviewState.PUBLISHED, "published_at": NOW - 20 * HOUR, "published_by": cast.coach}
    return waiting(cast, -5, **{**done, **fields})


def order(cast: Cast, wanted: Wanted = ALL, now: datetime = NOW) -> list[int]:
    return [review.pk for review in queue_of(cast.coach, wanted, now=now)]


def test_pain_alerts_come_first_then_overdue_then_by_promise(cast: Cast) -> None:
    late, soon, later = waiting(cast, -1), waiting(cast, 1), waiting(cast, 30)
    very_late = waiting(cast, -9)
    flagged = waiting(cast, 40, has_red_flag=True, has_pain=True)
    flagged_late = waiting(cast, -2, has_red_flag=True)
    assert order(cast) == [review.pk for review in (flagged_late, flagged, very_late, late, soon, later)]


def test_pain_comes_before_what_has_waited_longer_in_time(cast: Cast) -> None:
    old_reply = published(cast, reply_waiting_since=NOW - 200 * HOUR)
    late, soon = waiting(cast, -1), waiting(cast, 1)
    hurts = published(cast, reply_waiting_since=NOW, has_pain=True)
    assert order(cast) == [late.pk, hurts.pk, old_reply.pk, soon.pk]


def test_a_reply_waits_by_the_time_it_was_written_and_an_answered_review_without_one_does_not(
    cast: Cast,
) -> None:
    published(cast)
    late, soon = waiting(cast, -1), waiting(cast, 1)
    reply = published(cast, reply_waiting_since=NOW - 3 * HOUR)
    assert order(cast) == [late.pk, reply.pk, soon.pk]
    assert reasons_of(reply, NOW) == [Reason.REPLY]


def test_only_the_own_cohorts_wait(cast: Cast) -> None:
    waiting(cast)
    assert not queue_of(cast.coach_elsewhere, ALL, now=NOW).exists()
    for other in (cast.organiser, cast.student, cast.outsider):
        assert not queue_of(other, ALL, now=NOW).exists()


def test_coming_and_dropped_reviews_lie_nowhere(cast: Cast) -> None:
    waiting(cast, state=ReviewState.COMING, due_at=None)
    waiting(cast, state=ReviewState.DROPPED)
    assert count(cast.coach, ALL, now=NOW).piles == dict.fromkeys(Pile.values, 0)


def test_put_off_is_out_of_sight_until_its_time_or_the_promise(cast: Cast) -> None:
    review = waiting(cast, 10, deferred_until=NOW + 5 * HOUR)
    assert order(cast) == []
    assert order(cast, Wanted(pile=Pile.OFF)) == [review.pk]
    assert order(cast, now=NOW + 5 * HOUR) == [review.pk]
    assert reasons_of(review, NOW + 5 * HOUR) == [Reason.BACK]
    overdue = waiting(cast, 2, deferred_until=NOW + 5 * HOUR)
    assert order(cast, now=NOW + 3 * HOUR) == [overdue.pk]


def test_put_off_never_hides_a_pain_alert_or_a_word_of_the_student(cast: Cast) -> None:
    flagged = waiting(cast, deferred_until=NOW + HOUR, has_red_flag=True)
    written = waiting(cast, deferred_until=NOW + HOUR, reply_waiting_since=NOW)
    assert set(order(cast)) == {flagged.pk, written.pk}


def test_anothers_claim_is_shown_apart_until_it_lies_too_long(cast: Cast) -> None:
    other = factories.make_user("Bo Second")
    review = waiting(cast, state=ReviewState.CLAIMED, claimed_by=other, claimed_at=NOW)
    assert order(cast) == []
    assert order(cast, Wanted(pile=Pile.OTHERS)) == [review.pk]
    assert order(cast, now=NOW + 2 * HOUR + timedelta(seconds=1)) == [review.pk]


def test_a_standing_clock_waits_for_the_student_and_comes_back_with_a_word(cast: Cast) -> None:
    review = waiting(cast, due_at=None)
    assert order(cast) == []
    assert order(cast, Wanted(pile=Pile.STUDENT)) == [review.pk]
    Review.objects.update(reply_waiting_since=NOW)
    assert order(cast) == [review.pk]


def test_the_own_claim_stays_and_can_be_chosen(cast: Cast) -> None:
    mine = waiting(cast, state=ReviewState.CLAIMED, claimed_by=cast.coach, claimed_at=NOW)
    waiting(cast)
    assert mine.pk in order(cast)
    assert order(cast, Wanted(mine=True)) == [mine.pk]
    assert count(cast.coach, ALL, now=NOW).mine == 1


def test_filters_narrow_by_cohort_view_club_and_reason(cast: Cast) -> None:
    face = waiting(cast)
    factories.make_clip(face.submission, view="face_on")
    line = waiting(cast)
    factories.make_clip(line.submission, view="dtl")
    refused = waiting(cast)
    factories.make_clip(refused.submission, view="dtl", state="refused")
    driver = waiting(cast, is_first=True)
    type(driver.submission).objects.filter(pk=driver.submission_id).update(club_class="driver")
    assert order(cast, Wanted(view="face_on")) == [face.pk]
    assert order(cast, Wanted(view="dtl")) == [line.pk]
    assert order(cast, Wanted(club="driver")) == [driver.pk]
    assert order(cast, Wanted(reason=Reason.FIRST)) == [driver.pk]
    assert order(cast, Wanted(cohort=cast.cohort.public_id)) == order(cast)
    assert order(cast, Wanted(cohort=cast.other_cohort.public_id)) == []


def test_grouped_by_student_keeps_the_most_urgent_student_first(cast: Cast) -> None:
    first = waiting(cast, -3)
    mate_soon = waiting(cast, 1, student=cast.cohort_mate)
    mate_late = waiting(cast, 20, student=cast.cohort_mate)
    last = waiting(cast, 30)
    assert by_student(queue_of(cast.coach, ALL, now=NOW)) == [
        first.pk,
        last.pk,
        mate_soon.pk,
        mate_late.pk,
    ]


def test_every_review_lies_on_one_pile_at_most_and_counts_agree_with_the_lists(cast: Cast) -> None:
    other = factories.make_user("Bo Second")
    states: list[dict[str, object]] = [
        {"state": ReviewState.WAITING},
        {"state": ReviewState.CLAIMED, "claimed_by": cast.coach, "claimed_at": NOW},
        {"state": ReviewState.CLAIMED, "claimed_by": other, "claimed_at": NOW},
        {"state": ReviewState.CLAIMED, "claimed_by": other, "claimed_at": NOW - 3 * HOUR},
        {"state": ReviewState.PUBLISHED, "published_at": NOW, "published_by": cast.coach},
        {"state": ReviewState.COMING},
    ]
    times = {
        "due_at": (None, NOW - HOUR, NOW + HOUR),
        "deferred_until": (None, NOW - HOUR, NOW + HOUR),
        "reply_waiting_since": (None, NOW - HOUR),
        "has_red_flag": (False, True),
    }
    for state in states:
        for values in itertools.product(*times.values()):
            fields = {**state, **dict(zip(times, values, strict=True))}
            waiting(cast, **fields)
    piles = {pile: set(order(cast, Wanted(pile=pile))) for pile in Pile.values}
    for one, other_pile in itertools.combinations(piles.values(), 2):
        assert one.isdisjoint(other_pile)
    counts = count(cast.coach, ALL, now=NOW)
    assert counts.piles == {pile: len(ids) for pile, ids in piles.items()}
    # Nothing unanswered, and no word of a student, is out of every pile.
    active = Review.objects.exclude(state__in=(ReviewState.COMING, ReviewState.DROPPED))
    due = set(active.exclude(state=ReviewState.PUBLISHED).values_list("pk", flat=True))
    due |= set(active.filter(reply_waiting_since__isnull=False).values_list("pk", flat=True))
    assert due == set().union(*piles.values())
    for reason in Reason.values:
        listed = order(cast, Wanted(reason=reason))
        assert counts.reasons[reason] == len(listed)
        assert {
            r.pk for r in Review.objects.filter(pk__in=piles[Pile.WAITING]) if reason in reasons_of(r, NOW)
        } == set(listed)


def test_wrong_names_are_refused(cast: Cast) -> None:
    with pytest.raises(ValueError, match="pile"):
        queue_of(cast.coach, Wanted(pile="heap"), now=NOW)
    with pytest.raises(ValueError, match="reason"):
        queue_of(cast.coach, Wanted(reason="mood"), now=NOW)
