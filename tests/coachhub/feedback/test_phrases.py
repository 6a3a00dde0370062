from __future__ import annotations

from typing import Any

import pytest

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort
from coachhub.feedback.domain.phrases import MOST, phrases_of
from coachhub.feedback.models import Review
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.unit]


@pytest.fixture
def cohort() -> Cohort:
    return factories.make_cohort()


@pytest.fixture
def coach() -> User:
    return factories.make_user("Ada Coach")


def answered(cohort: Cohort, coach: User, student: str = "Tomi Aalto", **fields: Any) -> Review:
    submission = factories.make_submission(factories.make_student(cohort, student), cohort)
    given = {"state": "published", "published_by": coach, "published_at": NOW} | fields
    return factories.make_review(submission, **given)


def test_what_came_back_is_offered_most_used_first(cohort: Cohort, coach: User) -> None:
    for priority, cue in (("turf first", "brush"), ("wait", "brush"), ("wait", "brush "), ("wait", "once")):
        answered(cohort, coach, priority=priority, cue=cue)
    answered(cohort, coach, priority="turf first")
    assert phrases_of(coach) == {"priority": ["wait", "turf first"], "cue": ["brush"]}


def test_sentences_of_the_free_words(cohort: Cohort, coach: User) -> None:
    answered(cohort, coach, words="Film from hip height. Good.\nBreathe out first!")
    answered(cohort, coach, words="Nice. Breathe out first! Film from hip height.")
    answered(cohort, coach, words="Breathe out first! Good.")
    assert phrases_of(coach) == {"words": ["Breathe out first!", "Film from hip height."]}


def test_nobodys_name_is_handed_on(cohort: Cohort, coach: User) -> None:
    for student in ("Tomi Aalto", "Mirela Tanabe"):
        answered(cohort, coach, student, keep="as TOMI does it", cue="wait")
    assert phrases_of(coach) == {"cue": ["wait"]}


def test_only_own_and_published_words_count(cohort: Cohort, coach: User) -> None:
    other = factories.make_user("Other Coach")
    answered(cohort, coach, keep="the tempo")
    answered(cohort, other, keep="the tempo")
    answered(cohort, coach, keep="the tempo", state="claimed", claimed_by=coach, published_at=None)
    assert phrases_of(coach) == {}


def test_a_dozen_is_within_reach(cohort: Cohort, coach: User) -> None:
    for _ in range(2):
        for number in range(MOST + 3):
            answered(cohort, coach, keep=f"tempo {number:02d}")
    assert phrases_of(coach)["keep"] == [f"tempo {number:02d}" for number in range(MOST)]
