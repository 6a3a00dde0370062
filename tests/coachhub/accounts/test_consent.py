"""Who may say what of a consent. The rule for two guardians is the site's own, and stands on the guardian's page."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from coachhub.accounts.domain import consent, guardians
from coachhub.accounts.domain.consent import allows, standing
from coachhub.accounts.domain.growing_up import grow_up_all
from coachhub.accounts.domain.minors import (
    age_of,
    check_birth,
    correct_birth,
    grows_up_on,
    is_minor,
    note_minor,
)
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import Consent, Guardianship, Minor, User
from coachhub.camps.models import Cohort
from coachhub.common.domain.errors import RuleBroken
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]

LATER = NOW + timedelta(days=1)


@pytest.fixture
def cohort(db: None) -> Cohort:
    return factories.make_cohort()


@pytest.fixture
def one() -> User:
    return factories.make_user("One Guardian")


@pytest.fixture
def two() -> User:
    return factories.make_user("Two Guardian")


@pytest.fixture
def child(cohort: Cohort, one: User, two: User) -> User:
    child = factories.make_minor(cohort)
    factories.make_guardianship(child, one)
    factories.make_guardianship(child, two)
    return child


def say(child: User, by: User, now: datetime = LATER, **said: bool) -> None:
    for purpose, yes in said.items():
        (consent.give if yes else consent.withdraw)(child, [purpose], by=by, now=now)


def test_nothing_holds_before_somebody_agreed(child: User) -> None:
    assert not any(allows(child, purpose) for purpose in Purpose)


def test_each_purpose_is_a_choice_of_its_own(child: User, one: User) -> None:
    say(child, one, analysis=True)
    assert standing(child) == {"analysis"}


def test_one_yes_is_enough(child: User, one: User) -> None:
    say(child, one, analysis=True, feedback=True)
    assert standing(child) == {"analysis", "feedback"}


@pytest.mark.parametrize("first", [True, False])
def test_a_disagreement_is_a_no_in_whichever_order(child: User, one: User, two: User, first: bool) -> None:
    say(child, one, cohort=first)
    say(child, two, cohort=not first)
    assert not allows(child, "cohort")


def test_either_withdraws_and_only_the_own_no_can_be_taken_back(child: User, one: User, two: User) -> None:
    say(child, one, feedback=True)
    say(child, two, feedback=False)
    say(child, one, feedback=True)
    assert not allows(child, "feedback")
    say(child, two, feedback=True)
    assert allows(child, "feedback")


def test_the_no_of_a_guardian_who_left_counts_no_more(child: User, one: User, two: User) -> None:
    say(child, one, feedback=True)
    say(child, two, feedback=False)
    guardians.end(Guardianship.objects.get(guardian=two), by=two, now=LATER)
    assert allows(child, "feedback")


def test_the_minors_own_no_counts_and_the_own_yes_is_not_possible(child: User, one: User) -> None:
    say(child, one, cohort=True)
    say(child, child, cohort=False)
    assert not allows(child, "cohort")
    with pytest.raises(RuleBroken) as caught:
        say(child, child, analysis=True)
    assert caught.value.code == "minor"


def test_nobody_else_speaks_for_a_minor_and_nobody_for_an_adult(
    child: User, cohort: Cohort, one: User
) -> None:
    adult = factories.make_student(cohort)
    for person, by in ((child, factories.make_user()), (child, adult), (adult, one)):
        with pytest.raises(RuleBroken) as caught:
            say(person, by, feedback=False)
        assert caught.value.code == "not_a_guardian"
    assert allows(adult, "feedback")


def test_an_invited_guardian_does_not_speak_yet(cohort: Cohort) -> None:
    child, parent = factories.make_minor(cohort), factories.make_user()
    guardians.name_guardian(child, parent.email, by=child, now=NOW)
    with pytest.raises(RuleBroken):
        say(child, parent, analysis=True)


def test_words_are_kept_one_after_the_other_and_never_changed(child: User, one: User) -> None:
    say(child, one, cohort=True)
    say(child, one, cohort=True)
    say(child, one, cohort=False)
    rows = Consent.objects.filter(person=child).order_by("pk")
    assert [(row.is_given, row.by, row.voice) for row in rows] == [
        (True, one, "guardian"),
        (False, one, "guardian"),
    ]


def test_an_adult_agrees_and_withdraws_alone(cohort: Cohort) -> None:
    adult = factories.make_student(cohort)
    say(adult, adult, cohort=True)
    assert standing(adult) == {"analysis", "feedback", "cohort"}
    say(adult, adult, analysis=False)
    assert standing(adult) == {"feedback", "cohort"}
    with pytest.raises(RuleBroken) as caught:
        consent.refuse_unless_allowed(adult, Purpose.ANALYSIS, Purpose.FEEDBACK)
    assert "What I agree to" in caught.value.sentence


class TestGrowingUp:
    @pytest.mark.parametrize(
        ("year", "month", "day"), [(2008, 6, date(2026, 7, 1)), (2008, 12, date(2027, 1, 1))]
    )
    def test_not_before_the_month_is_over(self, year: int, month: int, day: date) -> None:
        assert grows_up_on(year, month) == day

    @pytest.mark.parametrize(
        ("on", "age"), [(date(2026, 5, 31), 13), (date(2026, 6, 30), 13), (date(2026, 7, 1), 14)]
    )
    def test_an_age_is_never_told_too_high(self, on: date, age: int) -> None:
        assert age_of(Minor(birth_year=2012, birth_month=6), on) == age

    @pytest.mark.parametrize(
        ("year", "month", "code"),
        [(2008, 5, "grown_up"), (1980, 1, "birth"), (2027, 1, "birth"), (2024, 1, "too_young")],
    )
    def test_months_that_make_no_minor(self, year: int, month: int, code: str) -> None:
        with pytest.raises(RuleBroken) as caught:
            check_birth(year, month, now=NOW)
        assert caught.value.code == code

    def test_the_guardians_say_and_sight_end_and_the_adult_is_asked(
        self, child: User, one: User, two: User
    ) -> None:
        say(child, one, analysis=True, feedback=True)
        Minor.objects.filter(person=child).update(birth_year=2008, birth_month=7)
        assert grow_up_all(now=datetime(2026, 7, 31, 23, tzinfo=UTC)) == 0
        assert allows(child, "analysis")
        later = datetime(2026, 8, 1, tzinfo=UTC)
        assert grow_up_all(now=later) == 1
        assert grow_up_all(now=later) == 0
        assert not is_minor(child, now=later)
        assert not standing(child)
        assert not guardians.guardians_of(child).exists()
        with pytest.raises(RuleBroken):
            say(child, one, later, analysis=True)
        say(child, child, later, analysis=True, feedback=True)
        assert standing(child) == {"analysis", "feedback"}
        # Reading on is the adult's to give, and to end.
        row = Guardianship.objects.get(guardian=one)
        with pytest.raises(RuleBroken):
            guardians.share_on(row, by=one, now=later)
        guardians.share_on(row, by=child, now=later)
        assert list(guardians.children_of(one)) == [child]
        assert not guardians.children_of(two).exists()
        with pytest.raises(RuleBroken):
            say(child, one, later, feedback=False)
        guardians.end(row, by=child, now=later)
        assert not guardians.children_of(one).exists()

    def test_a_minor_does_not_correct_the_own_month(self, child: User, one: User) -> None:
        minor = Minor.objects.get(person=child)
        with pytest.raises(RuleBroken):
            correct_birth(minor, year=1990, month=1, by=child, now=NOW)
        assert is_minor(child, now=NOW)
        correct_birth(minor, year=1990, month=1, by=one, now=NOW)
        assert not is_minor(child, now=NOW)
        # The other way round as well: whoever was taken for grown up needs a guardian's word again.
        say(child, child, analysis=True)
        correct_birth(minor, year=NOW.year - 12, month=1, by=one, now=NOW)
        assert is_minor(child, now=NOW)
        assert not standing(child)

    def test_who_turns_out_to_be_a_minor_loses_what_they_agreed_to(self, cohort: Cohort) -> None:
        person = factories.make_student(cohort)
        note_minor(person, year=NOW.year - 15, month=1, by=person, now=NOW)
        assert not standing(person)
