from __future__ import annotations

from datetime import timedelta

import pytest

from coachhub.camps.enums import Role
from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from coachhub.feedback.domain.reassigning import held_by, reassign
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def review_of(cast: Cast, **fields: object) -> Review:
    return factories.make_review(factories.make_submission(cast.student, cast.cohort), **fields)


def test_what_one_coach_holds_goes_to_another_with_drafts_and_promises(cast: Cast) -> None:
    due = NOW + timedelta(hours=5)
    held = review_of(
        cast, state=ReviewState.CLAIMED, claimed_by=cast.coach, claimed_at=NOW, words="half done", due_at=due
    )
    waiting = review_of(cast, state=ReviewState.WAITING)
    deferred = review_of(
        cast, state=ReviewState.WAITING, deferred_by=cast.coach, deferred_until=NOW + timedelta(days=2)
    )
    assert held_by(cast.coach, cast.cohort) == 1
    moved = reassign(cast.cohort, away_from=cast.coach, to=cast.coach_elsewhere, by=cast.organiser, now=NOW)
    assert moved == 1
    held.refresh_from_db(), waiting.refresh_from_db(), deferred.refresh_from_db()
    assert (held.claimed_by, held.words, held.due_at) == (cast.coach_elsewhere, "half done", due)
    assert waiting.claimed_by is None and deferred.deferred_until is None
    assert Membership.objects.filter(
        user=cast.coach_elsewhere, cohort=cast.cohort, role=Role.COACH
    ).exists(), "who takes over sees the cohort"
    assert Event.objects.filter(verb="review.reassigned", thing_id=held.public_id).count() == 1


def test_other_cohorts_and_published_answers_stay_where_they_are(cast: Cast) -> None:
    published = review_of(
        cast,
        state=ReviewState.PUBLISHED,
        claimed_by=cast.coach,
        published_by=cast.coach,
        published_at=NOW,
    )
    pupil = factories.make_student(cast.other_cohort)
    other = factories.make_review(
        factories.make_submission(pupil, cast.other_cohort),
        state=ReviewState.CLAIMED,
        claimed_by=cast.coach,
        claimed_at=NOW,
    )
    reassign(cast.cohort, away_from=cast.coach, to=cast.coach_elsewhere, by=cast.organiser, now=NOW)
    published.refresh_from_db(), other.refresh_from_db()
    assert published.published_by == cast.coach and other.claimed_by == cast.coach


def test_only_an_organiser_and_only_to_a_coach_of_the_camp(cast: Cast) -> None:
    review_of(cast, state=ReviewState.CLAIMED, claimed_by=cast.coach, claimed_at=NOW)
    for by, to in (
        (cast.coach, cast.coach_elsewhere),
        (cast.organiser_elsewhere, cast.coach_elsewhere),
        (cast.organiser, cast.outsider),
        (cast.organiser, cast.coach),
    ):
        with pytest.raises(RuleBroken):
            reassign(cast.cohort, away_from=cast.coach, to=to, by=by, now=NOW)
    assert held_by(cast.coach, cast.cohort) == 1
