from __future__ import annotations

from datetime import timedelta

import pytest
from django.conf import settings

from coachhub.camps.domain import invitations
from coachhub.camps.domain.invitations import Invited, accept, find, invite, token_of, withdraw
from coachhub.camps.enums import CampState, MemberState, Role
from coachhub.camps.models import Camp, Invitation, InvitationMail, Membership
from coachhub.common.domain.errors import RuleBroken
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


def make(cast: Cast, **fields: object) -> Invitation:
    return invite(cast.cohort, by=cast.organiser, now=NOW, **fields)  # type: ignore[arg-type]


def refused(token: str, **fields: object) -> str:
    with pytest.raises(RuleBroken) as caught:
        find(token, **({"now": NOW} | fields))  # type: ignore[arg-type]
    assert caught.value.sentence.endswith((".", "one."))
    return caught.value.code


def test_a_link_leads_into_its_cohort_once(cast: Cast) -> None:
    made = make(cast)
    member = accept(token_of(made), cast.outsider, now=NOW)
    assert (member.cohort, member.role, member.user) == (cast.cohort, Role.STUDENT, cast.outsider)
    made.refresh_from_db()
    assert made.uses == 1
    with pytest.raises(RuleBroken) as caught:
        accept(token_of(made), cast.organiser_elsewhere, now=NOW)
    assert caught.value.code == "used_up"


def test_opening_it_again_uses_nothing_up(cast: Cast) -> None:
    made = make(cast, most_uses=3)
    for _ in range(2):
        accept(token_of(made), cast.outsider, now=NOW)
    made.refresh_from_db()
    assert made.uses == 1
    # Also long after it ran out: who is in stays in.
    assert accept(token_of(made), cast.outsider, now=NOW + timedelta(days=99)).user == cast.outsider


def test_a_changed_link_is_worth_nothing(cast: Cast) -> None:
    token = token_of(make(cast))
    other = token_of(make(cast))
    swapped = token.split(".")[0] + "." + other.split(".")[1]
    for bad in (token[:-1], token + "x", swapped, "", "x" * 300, token.replace(".", ":"), "é.ü"):
        assert refused(bad) == "unknown"


def test_it_runs_out(cast: Cast) -> None:
    token = token_of(make(cast))
    end = NOW + settings.INVITATION_LIFETIME
    assert find(token, now=end - timedelta(seconds=1)).cohort == cast.cohort
    assert refused(token, now=end) == "expired"


def test_it_can_be_taken_back_and_who_came_in_stays(cast: Cast) -> None:
    made = make(cast, most_uses=5)
    accept(token_of(made), cast.outsider, now=NOW)
    withdraw(made, by=cast.organiser, now=NOW)
    first = made.withdrawn_at
    withdraw(made, by=cast.organiser, now=NOW + timedelta(hours=1))
    assert made.withdrawn_at == first
    assert refused(token_of(made)) == "withdrawn"
    assert Membership.objects.filter(user=cast.outsider, state=MemberState.ACTIVE).exists()


def test_a_closed_camp_takes_nobody_in(cast: Cast) -> None:
    token = token_of(make(cast))
    Camp.objects.filter(pk=cast.camp.pk).update(state=CampState.CLOSED)
    assert refused(token) == "camp_closed"
    cast.cohort.refresh_from_db()
    with pytest.raises(RuleBroken) as caught:
        make(cast)
    assert caught.value.code == "camp_closed"


def test_a_personal_invitation_is_for_that_person(cast: Cast) -> None:
    made = make(cast, email=" Uwe.Own@Example.org ", most_uses=7)
    assert (made.email, made.most_uses) == ("uwe.own@example.org", 1)
    with pytest.raises(RuleBroken) as caught:
        accept(token_of(made), cast.outsider, now=NOW)
    assert caught.value.code == "other_person"
    assert "uwe.own" not in caught.value.sentence
    made.refresh_from_db()
    assert made.uses == 0
    owner = factories.make_user(email="uwe.own@example.org")
    assert accept(token_of(made), owner, now=NOW).user == owner


def test_who_is_refused_uses_nothing_up(cast: Cast) -> None:
    made = make(cast)
    for person in (cast.coach, cast.organiser):
        with pytest.raises(RuleBroken) as caught:
            accept(token_of(made), person, now=NOW)
        assert caught.value.code == "is_staff"
    elsewhere = invite(cast.other_cohort, by=cast.organiser, now=NOW)
    with pytest.raises(RuleBroken) as caught:
        accept(token_of(elsewhere), cast.student, now=NOW)
    assert caught.value.code == "in_other_cohort"
    assert set(Invitation.objects.values_list("uses", flat=True)) == {0}


def test_the_last_place_is_taken_once(cast: Cast) -> None:
    """Both read the row as free; the conditional update lets one of them in."""
    made = make(cast)
    stale = Invitation.objects.select_related("cohort__camp").get(pk=made.pk)
    accept(token_of(made), cast.outsider, now=NOW)
    with pytest.raises(RuleBroken) as caught:
        invitations._use(stale, now=NOW)
    assert caught.value.code == "used_up"


def test_a_letter_is_queued_only_with_an_address(cast: Cast) -> None:
    make(cast)
    assert not InvitationMail.objects.exists()
    made = make(cast, email="a@example.org")
    assert InvitationMail.objects.get().invitation == made


def test_a_list_invites_each_address_once(cast: Cast) -> None:
    people = [
        Invited("a@example.org", "Ada"),
        Invited("A@example.org"),
        Invited(cast.student.email.upper()),
        Invited("b@example.org"),
    ]
    first = invitations.invite_all(cast.cohort, people, by=cast.organiser, now=NOW)
    assert [made.email for made in first] == ["a@example.org", "b@example.org"]
    assert invitations.invite_all(cast.cohort, people, by=cast.organiser, now=NOW) == []
    later = NOW + settings.INVITATION_LIFETIME
    again = invitations.invite_all(cast.cohort, people, by=cast.organiser, now=later)
    assert [made.email for made in again] == ["a@example.org", "b@example.org"]


@pytest.mark.parametrize(("field", "value"), [("role", "organiser"), ("most_uses", 0), ("most_uses", 201)])
def test_odd_values_are_refused_by_name(cast: Cast, field: str, value: object) -> None:
    with pytest.raises(ValueError, match=field):
        make(cast, **{field: value})


def test_an_address_is_hinted_at_only() -> None:
    assert invitations.hidden_address("marta.lang@example.org") == "m…@example.org"


def test_it_is_known_who_came_by_which_link(cast: Cast) -> None:
    made, other = make(cast, most_uses=5), make(cast, most_uses=5)
    later = factories.make_user("Vera Later")
    for person in (cast.outsider, later, cast.outsider):
        accept(token_of(made), person, now=NOW)
    assert invitations.came_by([made, other]) == {made.public_id: [cast.outsider, later]}
