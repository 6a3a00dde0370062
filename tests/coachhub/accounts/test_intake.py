from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from coachhub.accounts.domain.consent import standing
from coachhub.accounts.domain.intake import Answers, confirm_intake, current_intake, is_stale, save_intake
from coachhub.accounts.domain.minors import note_minor
from coachhub.accounts.models import Intake, User
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.models import Review
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]

GOOD = Answers(age_band="40_59", handedness="left", level="high")
BOTH = ("analysis", "feedback")


@pytest.fixture
def person(db: None) -> User:
    return factories.make_user()


def save(person: User, answers: Answers = GOOD, now=NOW, agrees: tuple[str, ...] = BOTH) -> Intake:
    return save_intake(person, answers, by=person, now=now, agrees=agrees)


def test_new_answers_are_a_new_version_and_the_old_one_stays(person: User) -> None:
    first = save(person)
    second = save(person, replace(GOOD, handedness="right"), now=NOW + timedelta(days=3))
    assert current_intake(person) == second
    assert [row.handedness for row in Intake.objects.order_by("created_at")] == ["left", "right"]
    first.refresh_from_db()
    assert first.created_at == NOW


def test_a_minor_answers_without_agreeing_to_anything(person: User) -> None:
    note_minor(person, year=NOW.year - 15, month=3, by=person, now=NOW)
    save(person, replace(GOOD, age_band="under_18"), agrees=())
    assert current_intake(person)
    assert not standing(person)


@pytest.mark.parametrize("band", ["under_18", "40_59"])
def test_the_age_must_fit_to_what_is_known(person: User, band: str) -> None:
    if band == "40_59":
        note_minor(person, year=NOW.year - 15, month=3, by=person, now=NOW)
    with pytest.raises(RuleBroken) as caught:
        save(person, replace(GOOD, age_band=band, pain_words="my knee"))
    assert caught.value.code == "age"
    assert not Intake.objects.exists()


@pytest.mark.parametrize("agrees", [(), ("analysis",), ("feedback", "cohort")])
def test_both_consents_are_needed_with_the_first_version(person: User, agrees: tuple[str, ...]) -> None:
    with pytest.raises(RuleBroken) as caught:
        save(person, agrees=agrees)
    assert caught.value.code == "needs_consent"
    assert not Intake.objects.exists()


def test_later_versions_leave_the_consents_as_they_are(person: User) -> None:
    save(person, agrees=(*BOTH, "cohort"))
    save(person, replace(GOOD, handedness="right"), agrees=())
    assert standing(person) == {*BOTH, "cohort"}


def test_still_so_is_a_version_of_today_with_the_same_words(person: User) -> None:
    save(person, replace(GOOD, pain="past", pain_sites=["wrist"]))
    later = NOW + timedelta(weeks=9)
    again = confirm_intake(person, by=person, now=later)
    assert again.created_at == later
    assert (again.handedness, again.pain_sites) == ("left", ["wrist"])
    assert Intake.objects.count() == 2


@pytest.mark.parametrize(
    ("days_ago", "starts_in", "stale"),
    [
        (55, None, False),
        (57, None, True),
        # Before a camp begins: answers of more than two weeks before its first day are asked again.
        (20, 10, True),
        (20, 15, False),
        (3, 10, False),
        (20, -2, True),
        (20, -10, False),
    ],
)
def test_old_answers_are_asked_again(person: User, days_ago: int, starts_in: int | None, stale: bool) -> None:
    intake = save(person, now=NOW - timedelta(days=days_ago))
    starts = None if starts_in is None else date.fromordinal(NOW.date().toordinal() + starts_in)
    assert is_stale(intake, now=NOW, starts_on=starts) is stale


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
