"""A pain alert stands until a coach who asked says otherwise, with a reason and a name; a new tick stands again."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from coachhub.accounts.models import AlertCleared
from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from coachhub.feedback.domain.alerts import clear_alert
from coachhub.feedback.domain.health import health_changed, health_of
from coachhub.feedback.models import Message, Review
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]
LATER = NOW + timedelta(hours=2)


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def place_of(cast: Cast) -> Membership:
    return Membership.objects.select_related("camp", "user").get(user=cast.student, camp=cast.camp)


def alarmed(cast: Cast) -> Review:
    """Ticked with the first answers and with the swings."""
    factories.make_intake(cast.student, red_flags=["night"], created_at=NOW + timedelta(minutes=1))
    submission = factories.make_submission(cast.student, cast.cohort, red_flags=["fall"], pain_today=True)
    return factories.make_review(submission, has_red_flag=True, has_pain=True)


def clear(cast: Cast, **changed: Any) -> AlertCleared:
    fields = {"ground": "seen", "words": "seen by a doctor on Monday", "by": cast.coach, "now": LATER}
    return clear_alert(place_of(cast), **(fields | changed))


def test_after_asking_it_no_longer_stands_and_says_who_and_why(cast: Cast) -> None:
    review = alarmed(cast)
    row = clear(cast)
    review.refresh_from_db()
    assert (review.has_red_flag, review.has_pain) == (False, True)
    health = health_of(review.submission)
    assert (health.red_flags, health.pain_now) == ((), True)
    assert {flag for _, flag in row.ticks} == {"night", "fall"}
    event = Event.objects.get(verb="alert.cleared")
    assert (event.actor, event.thing_id, event.detail) == (cast.coach, row.public_id, {"ground": "seen"})
    said = Message.objects.get(thread__student=cast.student)
    assert said.author == cast.coach and "a clinician has seen it" in said.text
    # What was ticked stays in the answers.
    review.submission.refresh_from_db()
    assert review.submission.red_flags == ["fall"]


def test_the_same_box_ticked_anew_stands_again(cast: Cast) -> None:
    review = alarmed(cast)
    clear(cast)
    factories.make_intake(cast.student, red_flags=["night"], created_at=LATER)
    health_changed(cast.student, now=LATER)
    review.refresh_from_db()
    assert review.has_red_flag
    assert health_of(review.submission).red_flags == ("night",)


def test_another_camp_asks_for_itself(cast: Cast) -> None:
    alarmed(cast)
    far = factories.make_cohort(cast.other_camp, "Far")
    factories.join(cast.student, far)
    there = factories.make_review(factories.make_submission(cast.student, far), has_red_flag=True)
    clear(cast)
    there.refresh_from_db()
    assert there.has_red_flag
    assert health_of(there.submission).red_flags == ("night",)


def test_a_message_that_waits_goes_on_waiting(cast: Cast) -> None:
    review = alarmed(cast)
    Review.objects.filter(pk=review.pk).update(reply_waiting_since=NOW)
    clear(cast)
    review.refresh_from_db()
    assert review.reply_waiting_since == NOW


@pytest.mark.parametrize(
    "changed, code",
    [
        ({"ground": "it went away"}, "ground"),
        ({"words": "  "}, "no_reason"),
        ({"words": "x" * 501}, "too_long"),
    ],
)
def test_without_a_reason_it_stands(cast: Cast, changed: dict[str, str], code: str) -> None:
    review = alarmed(cast)
    with pytest.raises(RuleBroken) as caught:
        clear(cast, **changed)
    assert caught.value.code == code
    assert health_of(review.submission).has_red_flag
    assert not AlertCleared.objects.exists()


def test_where_none_stands_there_is_none_to_clear(cast: Cast) -> None:
    alarmed(cast)
    clear(cast)
    with pytest.raises(RuleBroken) as caught:
        clear(cast)
    assert caught.value.code == "no_alert"


def test_the_database_refuses_a_clearing_without_words(cast: Cast) -> None:
    fields = {"student": cast.student, "scope_id": cast.camp.public_id, "ground": "seen", "created_at": NOW}
    with pytest.raises(IntegrityError), transaction.atomic():
        AlertCleared.objects.create(words="", **fields)


def test_the_button_is_the_coachs_and_the_student_reads_the_outcome(cast: Cast) -> None:
    alarmed(cast)
    coach, student = Client(), Client()
    coach.force_login(cast.coach)
    student.force_login(cast.student)
    address = reverse("coach:clear-alert", args=[place_of(cast).public_id])
    page = reverse("coach:student", args=[place_of(cast).public_id])
    assert "Pain alert: " in coach.get(page).content.decode()
    assert "See a clinician first" in student.get(reverse("student:home")).content.decode()
    assert student.post(address, {"ground": "seen", "words": "x"}).status_code == 403
    coach.post(address, {"ground": "mistake", "words": ""})
    assert not AlertCleared.objects.exists()

    answer = coach.post(address, {"ground": "mistake", "words": "slipped with the thumb"}, follow=True)
    text = answer.content.decode()
    assert "Pain alert: " not in text
    assert "by Ines Coach: it was ticked by mistake. “slipped with the thumb”" in text
    assert "See a clinician first" not in student.get(reverse("student:home")).content.decode()
