from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import IntegrityError

from coachhub.accounts.domain.intake import Answers, current_intake, save_intake
from coachhub.accounts.models import Intake, User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from coachhub.feedback.models import Review
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]

GOOD = Answers(age_band="40_59", handedness="left", level="high", agrees_analysis=True, agrees_feedback=True)


@pytest.fixture
def person(db: None) -> User:
    return factories.make_user()


def save(person: User, answers: Answers = GOOD, now=NOW) -> Intake:
    return save_intake(person, answers, by=person, now=now)


def test_new_answers_are_a_new_version_and_the_old_one_stays(person: User) -> None:
    first = save(person)
    second = save(person, replace(GOOD, handedness="right"), now=NOW + timedelta(days=3))
    assert current_intake(person) == second
    assert [row.handedness for row in Intake.objects.order_by("created_at")] == ["left", "right"]
    first.refresh_from_db()
    assert first.created_at == NOW


def test_nothing_of_a_minor_is_kept(person: User) -> None:
    with pytest.raises(RuleBroken) as caught:
        save(person, replace(GOOD, age_band="under_18", pain_words="my knee"))
    assert caught.value.code == "under_18"
    assert not Intake.objects.exists()
    assert not Event.objects.exists()


def test_the_database_too_refuses_a_minor(person: User) -> None:
    with pytest.raises(IntegrityError, match="minors_need_a_guardian_account"):
        factories.make_intake(person, age_band="under_18")


@pytest.mark.parametrize("consent", ["agrees_analysis", "agrees_feedback"])
def test_both_consents_are_needed(person: User, consent: str) -> None:
    with pytest.raises(RuleBroken) as caught:
        save(person, replace(GOOD, **{consent: False}))
    assert caught.value.code == "needs_consent"
    assert not Intake.objects.exists()


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("age_band", "ancient"),
        ("handedness", "both"),
        ("level", "pro"),
        ("pain", "maybe"),
        ("pain_sites", ["tail"]),
        ("red_flags", ["night", "sneeze"]),
        ("practice_hours", 61),
        ("practice_hours", -1),
    ],
)
def test_odd_answers_are_refused_by_name(person: User, field: str, value: object) -> None:
    with pytest.raises(ValueError, match=field):
        save(person, replace(GOOD, **{field: value}))
    assert not Intake.objects.exists()


def test_news_of_a_pain_alert_reaches_what_waits_for_the_coach(person: User) -> None:
    cohort = factories.make_cohort()
    factories.join(person, cohort)
    save(person)
    review = factories.make_review(factories.make_submission(person, cohort))
    save(person, replace(GOOD, pain="now", pain_sites=["low_back"], red_flags=["night"]))
    found = Review.objects.get(pk=review.pk)
    assert found.has_red_flag
    assert found.has_pain


def test_answers_are_visible_to_their_owner_alone(person: User) -> None:
    save(person)
    assert Intake.objects.visible_to(person).count() == 1
    assert not Intake.objects.visible_to(factories.make_user()).exists()
