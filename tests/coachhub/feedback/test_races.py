"""Two people, or two tabs, at the very same moment: real threads with a database connection each."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import pytest
from django.db import OperationalError, connection

from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from coachhub.feedback.domain.clock import start_clock
from coachhub.feedback.domain.reviews import claim_review, publish_review, save_draft
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import ClockEvent, Message, Review
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def messages(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    sent: list[int] = []
    monkeypatch.setattr("coachhub.feedback.tasks.tell_student.delay", sent.append)
    return sent


def together(*works: Callable[[], object]) -> list[str]:
    """Run the works at once; returns "done" or the code of the refusal for each."""
    gate, outcomes = threading.Barrier(len(works)), [""] * len(works)

    def run(index: int, work: Callable[[], object]) -> None:
        try:
            gate.wait()
            stubborn(work)
            outcomes[index] = "done"
        except RuleBroken as broken:
            outcomes[index] = broken.code
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return outcomes


def stubborn(work: Callable[[], object]) -> object:
    """SQLite's test database in memory refuses at once where the one on disk waits; a client comes again then."""
    for _ in range(200):
        try:
            return work()
        except OperationalError:
            time.sleep(0.02)
    return work()


def waiting(cast: Cast) -> Review:
    review = factories.make_review(factories.make_submission(cast.student, cast.cohort), due_at=None)
    start_clock(review, now=NOW)
    return review


def fresh(review: Review) -> Review:
    return Review.objects.get(pk=review.pk)


def test_many_coaches_claim_and_one_has_it() -> None:
    cast = make_cast()
    coaches = [factories.make_user(f"Coach {number}") for number in range(4)]
    for coach in coaches:
        factories.join(coach, cast.cohort, "coach")
    review = waiting(cast)
    outcomes = together(*(lambda by=by: claim_review(fresh(review), by=by, now=NOW) for by in coaches))
    assert sorted(outcomes) == ["claimed", "claimed", "claimed", "done"]
    assert fresh(review).claimed_by == coaches[outcomes.index("done")]
    assert Event.objects.filter(verb="review.claimed").count() == 1


def test_a_double_click_publishes_once(messages: list[int]) -> None:
    cast = make_cast()
    review = claim_review(waiting(cast), by=cast.coach, now=NOW)
    save_draft(review, {"priority": "Chest turns on"}, revision=0, by=cast.coach, now=NOW)

    def publish() -> Review:
        return publish_review(fresh(review), by=cast.coach, now=NOW, revision=1)

    assert together(publish, publish, publish) == ["done", "done", "done"]
    assert fresh(review).state == ReviewState.PUBLISHED
    assert Message.objects.count() == 1
    assert ClockEvent.objects.filter(move="stop").count() == 1
    assert Event.objects.filter(verb="review.published").count() == 1
    assert messages == [review.pk]


def test_two_tabs_that_save_at_once_keep_one_draft() -> None:
    cast = make_cast()
    review = claim_review(waiting(cast), by=cast.coach, now=NOW)

    def save(words: str) -> Callable[[], Review]:
        return lambda: save_draft(fresh(review), {"words": words}, revision=0, by=cast.coach, now=NOW)

    outcomes = together(save("left tab"), save("right tab"))
    assert sorted(outcomes) == ["done", "stale"]
    assert fresh(review).words == ("left tab" if outcomes[0] == "done" else "right tab")
    assert fresh(review).revision == 1
