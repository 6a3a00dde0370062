from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from analysis.signs.bands import SHIPPED
from coachhub.camps.domain.camps import CampPlan
from coachhub.camps.models import Camp, Membership, SignBands
from coachhub.feedback.domain.camp_map import map_of, switch_edge
from coachhub.feedback.models import Drill
from coachhub.progress.domain.copying import Wanted, copy_camp
from coachhub.videos.models import Submission
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
PLAN = CampPlan(
    name="Heron Lake, autumn", starts_on=date(2026, 9, 1), ends_on=date(2026, 9, 28), time_zone="Asia/Tokyo"
)


@pytest.fixture
def cast() -> Cast:
    cast = make_cast()
    factories.make_submission(cast.student, cast.cohort)
    edge = next(iter(map_of(cast.camp).found.edges))
    switch_edge(cast.camp, f"{edge.cause}>{edge.effect}", off=True, by=cast.coach, now=NOW)
    SignBands.objects.create(
        camp=cast.camp, number=3, changes=SHIPPED.to_json(), by=cast.coach, created_at=NOW
    )
    factories.make_drill(camp=cast.camp, key="own", name="Towel under the arm")
    return cast


def test_rules_and_material_come_along_and_people_do_not(cast: Cast) -> None:
    new = copy_camp(cast.camp, PLAN, Wanted(), by=cast.organiser, now=NOW)
    assert sorted(new.cohorts.values_list("name", flat=True)) == ["Evening", "Morning"]
    assert [row.number for row in new.sign_bands.all()] == [1]
    assert new.cause_maps.get().changes == cast.camp.cause_maps.get().changes
    assert Drill.objects.get(camp=new).name == "Towel under the arm"
    assert list(Membership.objects.filter(camp=new).values_list("user", "role")) == [
        (cast.organiser.pk, "organiser")
    ]
    assert not Submission.objects.filter(camp=new).exists()


def test_what_is_not_wanted_stays_behind(cast: Cast) -> None:
    nothing = Wanted(cohorts=False, bands=False, cause_map=False, drills=False)
    new = copy_camp(cast.camp, PLAN, nothing, by=cast.organiser, now=NOW)
    assert not new.cohorts.exists() and not new.sign_bands.exists()
    assert not new.cause_maps.exists() and not Drill.objects.filter(camp=new).exists()


def test_changing_the_copy_leaves_the_old_one_alone(cast: Cast) -> None:
    new = copy_camp(cast.camp, PLAN, Wanted(), by=cast.organiser, now=NOW)
    edge = list(map_of(new).found.edges)[3]
    factories.join(cast.coach, new.cohorts.first(), "coach")
    switch_edge(new, f"{edge.cause}>{edge.effect}", off=True, by=cast.coach, now=NOW)
    assert cast.camp.cause_maps.count() == 1 and new.cause_maps.count() == 2


def test_a_plan_that_cannot_be_makes_no_camp(cast: Cast) -> None:
    camps = Camp.objects.count()
    bad = replace(PLAN, promise_hours=0)
    with pytest.raises(ValueError, match="promise_hours"):
        copy_camp(cast.camp, bad, Wanted(), by=cast.organiser, now=NOW)
    assert Camp.objects.count() == camps
