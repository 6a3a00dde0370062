from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from coachhub.camps.domain import camps
from coachhub.camps.domain.camps import CampPlan
from coachhub.camps.enums import CampState, Role
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.models import Event
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

PLAN = CampPlan("  Heron   Lake ", date(2026, 6, 1), date(2026, 6, 28), "Europe/Oslo", [7, 6, 7], 36)


def test_who_makes_a_camp_organises_it() -> None:
    person = factories.make_user()
    camp = camps.make_camp(PLAN, by=person, now=NOW)
    assert (camp.name, camp.rest_days, camp.promise_hours) == ("Heron Lake", [6, 7], 36)
    assert Membership.objects.get().role == Role.ORGANISER
    assert list(Camp.objects.run_by(person)) == [camp]
    assert Event.objects.get().verb == "camp.made"


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"ends_on": date(2026, 5, 31)}, "ends_before_start"),
        ({"ends_on": date(2027, 6, 2)}, "too_long"),
        ({"rest_days": [1, 2, 3, 4, 5, 6, 7]}, "only_rest"),
    ],
)
def test_plans_that_cannot_work_are_refused_with_a_sentence(change: dict[str, object], code: str) -> None:
    with pytest.raises(RuleBroken) as caught:
        camps.make_camp(replace(PLAN, **change), by=factories.make_user(), now=NOW)
    assert caught.value.code == code
    assert caught.value.sentence.endswith(".")
    assert not Camp.objects.exists()


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("name", ""),
        ("name", "x" * 121),
        ("time_zone", "Nowhere"),
        ("rest_days", [0]),
        ("promise_hours", 0),
        ("promise_hours", 337),
        ("retention_days", 0),
    ],
)
def test_odd_values_are_refused_by_name(field: str, value: object) -> None:
    with pytest.raises(ValueError, match=field):
        camps.make_camp(replace(PLAN, **{field: value}), by=factories.make_user(), now=NOW)


def test_editing_records_what_changed_and_nothing_when_nothing_did() -> None:
    person = factories.make_user()
    camp = camps.make_camp(PLAN, by=person, now=NOW)
    camps.edit_camp(camp, PLAN, by=person, now=NOW)
    assert not Event.objects.filter(verb="camp.edited").exists()
    camps.edit_camp(camp, replace(PLAN, promise_hours=24), by=person, now=NOW)
    camp.refresh_from_db()
    assert camp.promise_hours == 24
    assert Event.objects.get(verb="camp.edited").detail == {"fields": ["promise_hours"]}


def test_closing_twice_closes_once() -> None:
    person = factories.make_user()
    camp = camps.make_camp(PLAN, by=person, now=NOW)
    for _ in range(2):
        assert camps.close_camp(camp, by=person, now=NOW).state == CampState.CLOSED
    assert Event.objects.filter(verb="camp.closed").count() == 1
    assert camps.reopen_camp(camp, by=person, now=NOW).state == CampState.OPEN


def test_cohorts_of_a_camp_have_different_names_and_camps_may_share_one() -> None:
    person, camp, other = factories.make_user(), factories.make_camp(), factories.make_camp()
    first = camps.make_cohort(camp, "Morning", by=person, now=NOW)
    second = camps.make_cohort(camp, "Evening", by=person, now=NOW)
    camps.make_cohort(other, "Morning", by=person, now=NOW)
    with pytest.raises(RuleBroken, match="Morning"):
        camps.make_cohort(camp, " Morning ", by=person, now=NOW)
    with pytest.raises(RuleBroken, match="Morning"):
        camps.rename_cohort(second, "Morning", by=person, now=NOW)
    assert camps.rename_cohort(first, "Dawn", by=person, now=NOW).name == "Dawn"
    assert sorted(Cohort.objects.filter(camp=camp).values_list("name", flat=True)) == ["Dawn", "Evening"]
