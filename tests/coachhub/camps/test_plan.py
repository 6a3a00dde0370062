from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from coachhub.camps.domain.plan import (
    TaskPlan,
    add_task,
    change_task,
    copy_tasks,
    days_of_week,
    due_at,
    retire_task,
    say_hello,
)
from coachhub.camps.models import CampTask, Hello
from coachhub.common.domain.errors import RuleBroken
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def _plan(cast: Cast, **changes: object) -> TaskPlan:
    first, last = days_of_week(cast.camp, 1)
    base = TaskPlan(words="Three iron swings", opens_on=first, due_on=last, views=("dtl", "face_on"))
    return replace(base, **changes)  # type: ignore[arg-type]


def test_the_last_day_counts_whole_in_the_camps_zone() -> None:
    """Auckland is at UTC+12 in June (no summer time there then): its 15 June ends at 12:00 UTC."""
    camp = factories.make_camp(
        time_zone="Pacific/Auckland", starts_on=date(2026, 6, 1), ends_on=date(2026, 6, 28)
    )
    task = CampTask(camp=camp, opens_on=date(2026, 6, 8), due_on=date(2026, 6, 15))
    assert due_at(task).astimezone(UTC) == datetime(2026, 6, 15, 12, tzinfo=UTC)


def test_a_day_with_a_clock_change_ends_at_midnight() -> None:
    """Berlin, 29 March 2026 (EU summer time begins): the day has 23 hours and ends at 22:00 UTC."""
    camp = factories.make_camp(
        time_zone="Europe/Berlin", starts_on=date(2026, 3, 23), ends_on=date(2026, 4, 19)
    )
    task = CampTask(camp=camp, opens_on=date(2026, 3, 23), due_on=date(2026, 3, 29))
    assert due_at(task).astimezone(UTC) == datetime(2026, 3, 29, 22, tzinfo=UTC)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"words": "  "}, "words"),
        ({"views": ()}, "views"),
        ({"views": ("above",)}, "views"),
        ({"swings": 0}, "swings"),
        ({"swings": 13}, "swings"),
        ({"due_on": date(2020, 1, 1)}, "due_on"),
        ({"opens_on": date(2020, 1, 1)}, "due_on"),
        ({"due_on": date(2036, 1, 1)}, "due_on"),
    ],
)
def test_what_nobody_can_do_is_not_asked(cast: Cast, changes: dict[str, object], code: str) -> None:
    with pytest.raises(RuleBroken) as broken:
        add_task(cast.camp, _plan(cast, **changes), by=cast.organiser, now=NOW)
    assert broken.value.code == code
    assert not CampTask.objects.exists()


def test_a_camp_has_one_baseline_and_another_after_the_first_is_taken_out(cast: Cast) -> None:
    plan = _plan(cast, is_baseline=True)
    first = add_task(cast.camp, plan, by=cast.organiser, now=NOW)
    with pytest.raises(RuleBroken, match="baseline already"):
        add_task(cast.camp, plan, by=cast.organiser, now=NOW)
    retire_task(first, by=cast.coach, now=NOW)
    add_task(cast.camp, plan, by=cast.organiser, now=NOW)
    with pytest.raises(RuleBroken, match="taken out"):
        change_task(first, plan, by=cast.organiser, now=NOW)


def test_views_are_kept_in_one_order_and_changes_are_kept(cast: Cast) -> None:
    task = add_task(cast.camp, _plan(cast), by=cast.organiser, now=NOW)
    assert task.views == ["face_on", "dtl"]
    changed = change_task(task, _plan(cast, swings=5, club_class="driver"), by=cast.coach, now=NOW)
    assert (changed.swings, changed.club_class) == (5, "driver")


def test_a_copy_keeps_the_distance_to_the_first_day_and_ends_with_the_camp(cast: Cast) -> None:
    camp = cast.camp
    add_task(camp, _plan(cast), by=cast.organiser, now=NOW)
    gone = add_task(camp, _plan(cast, words="Taken out"), by=cast.organiser, now=NOW)
    retire_task(gone, by=cast.organiser, now=NOW)
    last = _plan(cast, words="Last week", opens_on=camp.ends_on, due_on=camp.ends_on)
    add_task(camp, last, by=cast.organiser, now=NOW)
    short = factories.make_camp(starts_on=date(2027, 1, 4), ends_on=date(2027, 1, 8))
    copies = copy_tasks(camp, short, by=cast.organiser, now=NOW)
    assert [(t.words, t.opens_on, t.due_on) for t in copies] == [
        ("Three iron swings", date(2027, 1, 4), date(2027, 1, 8))
    ]


def test_who_is_in_the_camp_or_reads_along_sees_its_tasks_and_hello(cast: Cast) -> None:
    add_task(cast.camp, _plan(cast), by=cast.organiser, now=NOW)
    say_hello(cast.cohort, "Welcome, all of you.", by=cast.coach, now=NOW)
    say_hello(cast.cohort, "Welcome!", by=cast.coach, now=NOW)
    for name in ("student", "minor", "guardian", "coach", "organiser"):
        person = cast.person(name)
        assert CampTask.objects.visible_to(person).count() == 1, name
        assert [h.words for h in Hello.objects.visible_to(person)] == ["Welcome!"], name
    for name in ("organiser_elsewhere", "outsider", "anonymous"):
        assert not CampTask.objects.visible_to(cast.person(name)).exists(), name
        assert not Hello.objects.visible_to(cast.person(name)).exists(), name
    assert not Hello.objects.visible_to(cast.coach_elsewhere).exists()
    say_hello(cast.cohort, " ", by=cast.coach, now=NOW)
    assert not Hello.objects.exists()
