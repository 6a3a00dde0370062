from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core import mail
from django.db import IntegrityError, transaction

from coachhub.accounts.domain import guardians
from coachhub.accounts.domain.consent import standing
from coachhub.accounts.domain.growing_up import recount_unguarded
from coachhub.accounts.domain.guardian_letters import send_letter, send_unsent
from coachhub.accounts.domain.guardians import (
    accept,
    children_of,
    find,
    guardians_of,
    name_guardian,
    token_of,
)
from coachhub.accounts.models import Guardianship, User
from coachhub.camps.domain.members import enrol
from coachhub.camps.enums import Role
from coachhub.camps.models import Cohort
from coachhub.common.domain.errors import RuleBroken, Stale
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cohort(db: None) -> Cohort:
    return factories.make_cohort()


@pytest.fixture
def child(cohort: Cohort) -> User:
    return factories.make_minor(cohort, "Mika")


def named(child: User, email: str = "Parent@example.org") -> Guardianship:
    return name_guardian(child, email, by=child, now=NOW)


def refused(code: str, do: object, *args: object, **kwargs: object) -> RuleBroken:
    with pytest.raises(RuleBroken) as caught:
        do(*args, **kwargs)  # type: ignore[operator]
    assert caught.value.code == code
    return caught.value


def test_a_guardian_comes_in_by_the_letter(child: User, django_capture_on_commit_callbacks: object) -> None:
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        row = named(child)
    if not mail.outbox:
        send_letter(row.pk, now=NOW)
    letter = mail.outbox[0]
    assert letter.to == ["parent@example.org"]
    # Subjects stand on lock screens.
    assert "Mika" not in letter.subject
    link = re.search(r"/guardian/invitation/(\S+)/", letter.body)
    assert link is not None
    parent = factories.make_user()
    assert accept(link[1], parent, now=NOW + timedelta(days=1)) == row
    assert list(guardians_of(child)) == [parent]
    assert list(children_of(parent)) == [child]


def test_naming_and_withdrawing_is_no_way_to_send_letters_without_end(child: User) -> None:
    for number in range(guardians.MOST_A_DAY):
        row = named(child, f"somebody{number}@example.org")
        guardians.withdraw_invitation(row, by=child, now=NOW)
    refused("too_often", named, child)
    assert name_guardian(child, "parent@example.org", by=child, now=NOW + timedelta(days=1))


def test_a_letter_is_sent_once_and_a_lost_one_by_the_sweep(child: User) -> None:
    row = named(child)
    assert send_letter(row.pk, now=NOW)
    assert not send_letter(row.pk, now=NOW)
    assert len(mail.outbox) == 1
    guardians.send_again(row, by=child, now=NOW)
    assert send_unsent(NOW + timedelta(minutes=5)) == 1
    assert len(mail.outbox) == 2
    assert mail.outbox[0].body != mail.outbox[1].body


def test_there_are_two_at_most_and_one_address_once(child: User) -> None:
    first = named(child)
    assert named(child, "PARENT@example.org ") == first
    second = named(child, "other@example.org")
    refused("two", named, child, "third@example.org")
    guardians.withdraw_invitation(second, by=child, now=NOW)
    assert named(child, "third@example.org").state == "invited"


@pytest.mark.parametrize(("email", "code"), [("nobody", "address"), ("", "address"), ("OWN", "yourself")])
def test_addresses_that_are_none(child: User, email: str, code: str) -> None:
    refused(code, named, child, child.email.upper() if email == "OWN" else email)


def test_grown_ups_have_no_guardians(cohort: Cohort) -> None:
    refused("grown_up", named, factories.make_student(cohort))


def test_links_end_are_replaced_and_can_be_withdrawn(child: User) -> None:
    row = named(child)
    old = token_of(row)
    refused("over", find, old, now=NOW + timedelta(days=14))
    assert find(old, now=NOW + timedelta(days=13)) == row
    row = guardians.send_again(row, by=child, now=NOW + timedelta(days=15))
    refused("over", find, old, now=NOW + timedelta(days=15))
    assert find(token_of(row), now=NOW + timedelta(days=28)) == row
    guardians.withdraw_invitation(row, by=child, now=NOW)
    refused("over", find, token_of(row), now=NOW)
    refused("unknown", find, token_of(row)[:-2] + "xx", now=NOW)


def test_letters_are_not_without_end(child: User) -> None:
    row = named(child)
    for _ in range(guardians.MOST_LETTERS - 1):
        row = guardians.send_again(row, by=child, now=NOW)
    refused("letters", guardians.send_again, row, by=child, now=NOW)


def test_who_can_not_be_a_guardian(child: User, cohort: Cohort) -> None:
    token = token_of(named(child))
    coach, organiser = factories.make_user(), factories.make_user()
    factories.join(coach, cohort, Role.COACH)
    factories.join(organiser, cohort, Role.ORGANISER)
    refused("yourself", accept, token, child, now=NOW)
    refused("minor", accept, token, factories.make_minor(cohort), now=NOW)
    refused("is_staff", accept, token, coach, now=NOW)
    refused("is_staff", accept, token, organiser, now=NOW)
    assert not guardians_of(child).exists()


def test_a_guardian_does_not_come_to_work_in_the_childs_camp_later(child: User, cohort: Cohort) -> None:
    parent = factories.make_user()
    factories.make_guardianship(child, parent)
    refused("own_family", enrol, parent, cohort, Role.COACH, by=parent, now=NOW)
    other = factories.make_cohort()
    enrol(parent, other, Role.COACH, by=parent, now=NOW)
    refused("own_family", enrol, child, other, Role.STUDENT, by=child, now=NOW)


def test_no_consent_outlives_the_last_guardians_account(child: User) -> None:
    parent = factories.make_user()
    factories.make_guardianship(child, parent)
    factories.agree(child, by=parent)
    assert recount_unguarded(now=NOW) == 0
    parent.delete()
    assert recount_unguarded(now=NOW) == 1
    assert not standing(child)


def test_a_link_is_taken_once(child: User) -> None:
    token, first, second = token_of(named(child)), factories.make_user(), factories.make_user()
    accept(token, first, now=NOW)
    refused("over", accept, token, second, now=NOW)
    assert list(guardians_of(child)) == [first]


def test_one_person_does_not_fill_both_places(child: User) -> None:
    parent = factories.make_user()
    one, two = named(child), named(child, "other@example.org")
    accept(token_of(one), parent, now=NOW)
    refused("twice", accept, token_of(two), parent, now=NOW)


def test_the_database_too_knows_no_guardian_without_a_person(child: User) -> None:
    row = named(child)
    with pytest.raises(IntegrityError), transaction.atomic():
        Guardianship.objects.filter(pk=row.pk).update(state="active")
    with pytest.raises(IntegrityError), transaction.atomic():
        Guardianship.objects.filter(pk=row.pk).update(guardian=child)


def test_stepping_back_ends_sight_and_what_only_this_one_agreed_to(child: User) -> None:
    parent, other = factories.make_user(), factories.make_user()
    mine, theirs = factories.make_guardianship(child, parent), factories.make_guardianship(child, other)
    factories.agree(child, "analysis", "feedback", by=parent)
    guardians.end(theirs, by=other, now=NOW)
    assert standing(child) == {"analysis", "feedback"}
    guardians.end(mine, by=parent, now=NOW)
    assert not standing(child)
    assert not children_of(parent).exists()
    with pytest.raises(Stale):
        guardians.end(mine, by=parent, now=NOW)


def test_an_account_that_is_switched_off_reads_nothing_along(child: User) -> None:
    parent = factories.make_user()
    factories.make_guardianship(child, parent)
    User.objects.filter(pk=parent.pk).update(is_active=False)
    refused("no_guardian", guardians.refuse_unless_read_along, child)
