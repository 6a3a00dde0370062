from __future__ import annotations

import pytest

from coachhub.camps.enums import CampState, MemberState
from coachhub.camps.models import Camp, Membership
from coachhub.common.rules import can
from tests import factories
from tests.cast import NAMES, Cast, make_cast

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

# Who may do what in the first camp's first cohort. Everybody else may not.
ALLOWED = {
    "camps.edit": {"organiser"},
    "camps.invite": {"organiser"},
    "camps.withdraw_invitation": {"organiser"},
    "camps.manage_members": {"organiser"},
    "camps.see_participation": {"organiser"},
    "camps.export": {"organiser"},
    "camps.see_names": {"organiser", "coach"},
    "camps.see_bands": {"organiser", "coach"},
    "camps.set_bands": {"organiser", "coach"},
    "camps.send_swings": {"student", "cohort_mate", "minor"},
}


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


@pytest.mark.parametrize("action", sorted(ALLOWED))
def test_who_may_in_a_cohort(cast: Cast, action: str) -> None:
    allowed = {name for name in NAMES if can(cast.person(name), action, cast.cohort)}
    assert allowed == ALLOWED[action]


def test_a_coach_of_another_cohort_of_the_same_camp_is_no_coach_here(cast: Cast) -> None:
    assert can(cast.coach_elsewhere, "camps.see_names", cast.other_cohort)
    assert not can(cast.coach_elsewhere, "camps.see_names", cast.cohort)


def test_a_thing_of_a_cohort_is_judged_by_its_cohort(cast: Cast) -> None:
    submission = factories.make_submission(cast.student, cast.cohort)
    assert can(cast.coach, "camps.see_names", submission)
    assert not can(cast.coach_elsewhere, "camps.see_names", submission)


def test_who_has_left_may_nothing_more(cast: Cast) -> None:
    Membership.objects.filter(user=cast.organiser).update(state=MemberState.LEFT)
    assert not can(cast.organiser, "camps.edit", cast.camp)


def test_a_paused_student_does_not_send(cast: Cast) -> None:
    Membership.objects.filter(user=cast.student).update(state=MemberState.PAUSED)
    assert not can(cast.student, "camps.send_swings", cast.cohort)


def test_nobody_is_invited_to_a_closed_camp(cast: Cast) -> None:
    Camp.objects.filter(pk=cast.camp.pk).update(state=CampState.CLOSED)
    cast.camp.refresh_from_db()
    cast.cohort.refresh_from_db()
    assert not can(cast.organiser, "camps.invite", cast.camp)
    assert can(cast.organiser, "camps.edit", cast.camp)


def test_only_who_was_let_makes_camps(cast: Cast) -> None:
    assert not can(cast.organiser, "camps.make")
    assert can(factories.make_user(may_make_camps=True), "camps.make")
