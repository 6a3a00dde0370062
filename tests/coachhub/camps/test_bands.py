from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from analysis.signs.bands import SHIPPED, Bands
from coachhub.camps.domain.bands import bands_of, set_bands
from coachhub.camps.domain.camps import close_camp
from coachhub.camps.models import SignBands
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.common.models import Event
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]
LATER = NOW + timedelta(hours=1)
WIDER = Bands({("sway", "pelvis_shift_top"): (-18.0, -26.0)})
QUIET = Bands(off=frozenset({"slide"}))


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def test_a_camp_begins_with_the_shipped_bands(cast: Cast) -> None:
    assert bands_of(cast.camp) == (0, SHIPPED)


def test_each_change_is_numbered_with_who_when_and_why(cast: Cast) -> None:
    first = set_bands(cast.camp, WIDER, based_on=0, why=" beginners' week ", by=cast.coach, now=NOW)
    second = set_bands(cast.camp, QUIET, based_on=1, by=cast.organiser, now=LATER)
    assert bands_of(cast.camp) == (2, QUIET)
    assert first is not None
    assert second is not None
    assert (first.number, first.by, first.why, first.created_at) == (1, cast.coach, "beginners' week", NOW)
    assert (second.number, second.by, second.created_at) == (2, cast.organiser, LATER)
    assert first.changes == {"sway": {"grey": {"pelvis_shift_top": [-18.0, -26.0]}}}
    event = Event.objects.filter(verb="camp.bands_set").latest("id")
    assert (event.actor, event.detail) == (cast.organiser, {"number": 2})
    assert event.scope_id == cast.camp.public_id


def test_back_to_shipped_is_a_change_too_and_the_history_stays(cast: Cast) -> None:
    set_bands(cast.camp, WIDER, based_on=0, by=cast.coach, now=NOW)
    set_bands(cast.camp, SHIPPED, based_on=1, by=cast.coach, now=LATER)
    assert bands_of(cast.camp) == (2, SHIPPED)
    assert list(cast.camp.sign_bands.values_list("number", flat=True)) == [2, 1]


def test_what_holds_already_changes_nothing(cast: Cast) -> None:
    assert set_bands(cast.camp, SHIPPED, based_on=0, by=cast.coach, now=NOW) is None
    assert not SignBands.objects.exists()


def test_who_looked_at_older_bands_must_look_again(cast: Cast) -> None:
    set_bands(cast.camp, WIDER, based_on=0, by=cast.coach, now=NOW)
    with pytest.raises(Stale):
        set_bands(cast.camp, QUIET, based_on=0, by=cast.organiser, now=LATER)
    assert bands_of(cast.camp) == (1, WIDER)


def test_two_rows_of_one_number_are_impossible(cast: Cast) -> None:
    set_bands(cast.camp, WIDER, based_on=0, by=cast.coach, now=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        SignBands.objects.create(camp=cast.camp, number=1, created_at=NOW)


@pytest.mark.parametrize("name", ["student", "outsider"])
def test_others_cant(cast: Cast, name: str) -> None:
    with pytest.raises(RuleBroken, match="coach or the organiser"):
        set_bands(cast.camp, WIDER, based_on=0, by=cast.person(name), now=NOW)


def test_a_closed_camp_keeps_its_bands(cast: Cast) -> None:
    close_camp(cast.camp, by=cast.organiser, now=NOW)
    with pytest.raises(RuleBroken, match="open camp"):
        set_bands(cast.camp, WIDER, based_on=0, by=cast.organiser, now=NOW)


def test_only_those_who_coach_or_organise_see_them(cast: Cast) -> None:
    set_bands(cast.camp, WIDER, based_on=0, by=cast.coach, now=NOW)
    sees = {
        name
        for name in ("student", "coach", "coach_elsewhere", "organiser", "organiser_elsewhere")
        if SignBands.objects.visible_to(cast.person(name)).exists()
    }
    assert sees == {"coach", "coach_elsewhere", "organiser"}


def test_bands_of_an_older_version_that_fit_no_more_are_left_out(cast: Cast) -> None:
    changes = {
        "sway": {"grey": {"pelvis_shift_top": [-14, -900]}},
        "slide": {"off": True},
        "gone": {"off": True},
    }
    SignBands.objects.create(camp=cast.camp, number=1, changes=changes, by=cast.coach, created_at=NOW)
    assert bands_of(cast.camp) == (1, QUIET)
