from __future__ import annotations

import pytest
from django.db import IntegrityError

from coachhub.camps.domain.members import assign_coach, enrol, set_member_state
from coachhub.camps.enums import MEMBER_MOVES, MemberState, Role
from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.common.models import Event
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


def of(cast: Cast, name: str, cohort: object) -> Membership:
    return Membership.objects.get(user=cast.person(name), cohort=cohort)


def test_enrolling_twice_is_once(cast: Cast) -> None:
    first = enrol(cast.outsider, cast.cohort, Role.STUDENT, by=cast.organiser, now=NOW)
    second = enrol(cast.outsider, cast.cohort, Role.STUDENT, by=cast.organiser, now=NOW)
    assert first == second
    assert Event.objects.filter(verb="member.joined").count() == 1


def test_a_student_is_in_one_cohort_of_a_camp(cast: Cast) -> None:
    with pytest.raises(RuleBroken) as caught:
        enrol(cast.student, cast.other_cohort, Role.STUDENT, by=cast.organiser, now=NOW)
    assert caught.value.code == "in_other_cohort"
    assert Membership.objects.filter(user=cast.student).count() == 1


def test_who_helps_to_run_a_camp_is_no_student_of_it_nor_the_reverse(cast: Cast) -> None:
    for person in (cast.coach, cast.organiser):
        with pytest.raises(RuleBroken) as caught:
            enrol(person, cast.cohort, Role.STUDENT, by=cast.organiser, now=NOW)
        assert caught.value.code == "is_staff"
    with pytest.raises(RuleBroken) as caught:
        enrol(cast.student, cast.other_cohort, Role.COACH, by=cast.organiser, now=NOW)
    assert caught.value.code == "is_student"


def test_nobody_becomes_an_organiser_this_way(cast: Cast) -> None:
    with pytest.raises(ValueError, match="role"):
        enrol(cast.outsider, cast.cohort, Role.ORGANISER, by=cast.organiser, now=NOW)


@pytest.mark.parametrize("old", list(MemberState))
@pytest.mark.parametrize("new", list(MemberState))
def test_moves(cast: Cast, old: MemberState, new: MemberState) -> None:
    member = of(cast, "student", cast.cohort)
    Membership.objects.filter(pk=member.pk).update(state=old)
    member.refresh_from_db()
    if new == old or new in MEMBER_MOVES[old]:
        set_member_state(member, new, by=cast.organiser, now=NOW)
        expected = new
    else:
        with pytest.raises(RuleBroken):
            set_member_state(member, new, by=cast.organiser, now=NOW)
        expected = old
    member.refresh_from_db()
    assert member.state == expected
    assert Event.objects.exists() is (expected != old)


def test_two_organisers_changing_the_same_member_are_told(cast: Cast) -> None:
    mine, theirs = of(cast, "student", cast.cohort), of(cast, "student", cast.cohort)
    set_member_state(theirs, MemberState.LEFT, by=cast.organiser, now=NOW)
    with pytest.raises(Stale):
        set_member_state(mine, MemberState.PAUSED, by=cast.organiser, now=NOW)


def test_who_has_left_sees_nothing_and_comes_back_by_a_new_invitation(cast: Cast) -> None:
    submission = factories.make_submission(cast.student, cast.cohort)
    member = of(cast, "coach", cast.cohort)
    set_member_state(member, MemberState.LEFT, by=cast.organiser, now=NOW)
    assert submission not in type(submission).objects.visible_to(cast.coach)
    assert enrol(cast.coach, cast.cohort, Role.COACH, by=cast.organiser, now=NOW).pk == member.pk
    assert submission in type(submission).objects.visible_to(cast.coach)


def test_the_last_organiser_stays(cast: Cast) -> None:
    member = Membership.objects.get(user=cast.organiser)
    with pytest.raises(RuleBroken) as caught:
        set_member_state(member, MemberState.LEFT, by=cast.organiser, now=NOW)
    assert caught.value.code == "last_organiser"
    factories.join(cast.outsider, cast.cohort, Role.ORGANISER)
    assert set_member_state(member, MemberState.LEFT, by=cast.organiser, now=NOW).state == MemberState.LEFT


def test_only_a_coach_of_the_camp_is_assigned(cast: Cast) -> None:
    assert assign_coach(cast.other_cohort, cast.coach, by=cast.organiser, now=NOW).role == Role.COACH
    with pytest.raises(RuleBroken) as caught:
        assign_coach(cast.cohort, cast.outsider, by=cast.organiser, now=NOW)
    assert caught.value.code == "no_coach_here"


@pytest.mark.parametrize("name", ["organiser", "coach", "student"])
def test_the_database_keeps_one_membership_of_a_kind(cast: Cast, name: str) -> None:
    held = Membership.objects.get(user=cast.person(name))
    with pytest.raises(IntegrityError):
        factories.join(held.user, cast.cohort, held.role)
