from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.core import mail

from coachhub.accounts.domain.notices import choose_mail, send_waiting
from coachhub.accounts.models import Notice
from coachhub.camps.models import Camp, CampTask, Membership
from coachhub.progress.domain.plan import arrivals, plan_of, plans_of
from coachhub.progress.domain.reminders import remind
from tests import factories

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
BOTH = ["face_on", "dtl"]


def _at(day: int, hour: int = 12) -> datetime:
    return datetime(2026, 6, day, hour, tzinfo=UTC)


@pytest.fixture
def place() -> Membership:
    camp = factories.make_camp(starts_on=date(2026, 6, 1), ends_on=date(2026, 6, 28), time_zone="UTC")
    student = factories.make_student(factories.make_cohort(camp))
    return Membership.objects.select_related("camp", "cohort", "user").get(user=student)


def _task(camp: Camp, opens: int, due: int, **fields: Any) -> CampTask:
    defaults: dict[str, Any] = {"words": "Three irons", "views": BOTH, "club_class": "iron", "swings": 3}
    days = {"opens_on": date(2026, 6, opens), "due_on": date(2026, 6, due)}
    return CampTask.objects.create(camp=camp, created_at=_at(1), **defaults | days | fields)


def _send(
    place: Membership, day: int, *swings: tuple[str, int], state: str = "usable", **fields: Any
) -> None:
    assert place.cohort is not None
    sent = factories.make_submission(place.user, place.cohort, **{"sent_at": _at(day)} | fields)
    for view, count in swings:
        clip = factories.make_clip(sent, view=view, state=state)
        for _ in range(count if state == "usable" else 0):
            factories.make_swing(clip)


def _says(place: Membership, now: datetime) -> list[str]:
    return [one.state for one in plan_of(place, now=now)]


def test_time_alone_makes_it_upcoming_open_due_and_late(place: Membership) -> None:
    _task(place.camp, 8, 14)
    seen = [_says(place, now)[0] for now in (_at(7, 23), _at(8, 0), _at(12, 23), _at(13, 0), _at(14, 23))]
    assert seen == ["upcoming", "open", "open", "due", "due"]
    assert _says(place, _at(15, 0)) == ["late"]


def test_it_is_done_by_usable_swings_from_each_view_with_the_club(place: Membership) -> None:
    _task(place.camp, 8, 14)
    _send(place, 9, ("face_on", 3))
    _send(place, 9, ("dtl", 3), club_class="driver")
    _send(place, 9, ("dtl", 3), state="refused")
    _send(place, 9, ("dtl", 2), sent_at=None)
    (one,) = plan_of(place, now=_at(10))
    assert (one.state, one.missing) == ("open", {"dtl": 3})
    _send(place, 10, ("dtl", 3))
    assert _says(place, _at(10)) == ["done"]


def test_clips_being_checked_are_said_and_do_not_count(place: Membership) -> None:
    _task(place.camp, 8, 14, views=["dtl"])
    _send(place, 9, ("dtl", 3), state="received")
    (one,) = plan_of(place, now=_at(10))
    assert (one.state, one.being_checked) == ("open", 1)


def test_late_swings_fill_the_old_task_only_when_this_weeks_has_enough(place: Membership) -> None:
    _task(place.camp, 1, 7, views=["dtl"])
    _task(place.camp, 8, 14, views=["dtl"])
    _send(place, 9, ("dtl", 3))
    assert _says(place, _at(10)) == ["late", "done"]
    _send(place, 11, ("dtl", 3))
    assert _says(place, _at(12)) == ["done_late", "done"]


def test_a_day_is_a_day_of_the_camp(place: Membership) -> None:
    """Honolulu, UTC-10 all year: 05:00 UTC on the 15th is still the 14th there."""
    place.camp.time_zone = "Pacific/Honolulu"
    place.camp.save()
    _task(place.camp, 8, 14, views=["dtl"])
    _send(place, 15, ("dtl", 3), sent_at=_at(15, 5))
    assert _says(place, _at(20)) == ["done"]


def test_a_cohort_takes_as_many_queries_as_one(place: Membership, django_assert_num_queries: Any) -> None:
    assert place.cohort is not None
    _task(place.camp, 8, 14)
    for _ in range(3):
        factories.make_student(place.cohort)
    places = list(Membership.objects.students().select_related("camp", "user"))
    with django_assert_num_queries(2):
        assert len(plans_of(places, now=_at(10))) == 4


def test_staff_see_who_has_tried_and_whose_baseline_is_missing(place: Membership) -> None:
    assert place.cohort is not None
    _task(place.camp, 1, 3, views=["face_on"], is_baseline=True)
    _task(place.camp, 2, 4)
    (one,) = arrivals(place.camp, [place.cohort], now=_at(5))
    assert (one.has_intake, one.has_tried, one.is_ready, len(one.late)) == (True, False, False, 2)
    _send(place, 2, ("face_on", 3))
    (one,) = arrivals(place.camp, [place.cohort], now=_at(5))
    assert (one.has_tried, one.is_ready, len(one.late)) == (True, True, 1)


def test_a_first_upload_that_was_refused_is_no_readiness(place: Membership) -> None:
    assert place.cohort is not None
    _send(place, 2, ("face_on", 1), state="refused")
    (one,) = arrivals(place.camp, [place.cohort], now=_at(5))
    assert (one.has_tried, one.is_refused, one.is_ready) == (True, True, False)
    _send(place, 3, ("face_on", 1))
    (one,) = arrivals(place.camp, [place.cohort], now=_at(5))
    assert (one.has_tried, one.is_refused, one.is_ready) == (True, False, True)


def test_a_guardian_is_led_to_the_childs_plan_and_gets_one_letter_for_two_children(place: Membership) -> None:
    assert place.cohort is not None
    guardian = factories.make_user()
    children = [factories.make_minor(place.cohort, guardian=guardian) for _ in range(2)]
    _task(place.camp, 8, 10)
    assert remind(_at(9, 10)) == 3
    mine = Notice.objects.filter(person=guardian)
    places = Membership.objects.filter(user__in=children)
    assert {row.path for row in mine} == {f"/guardian/plans/{one.public_id}/" for one in places}
    # Seven in the evening in Tokyo, where people live.
    assert send_waiting(_at(9, 11)) == 4
    assert len([letter for letter in mail.outbox if letter.to == [guardian.email]]) == 1


def test_one_reminder_a_day_what_can_still_be_in_time_first(place: Membership) -> None:
    late = _task(place.camp, 1, 7, words="Last week")
    due = _task(place.camp, 8, 10, words="This week")
    assert remind(_at(9, 10)) == 1
    assert remind(_at(9, 15)) == 0
    assert remind(_at(10, 10)) == 1
    assert remind(_at(11, 10)) == 1
    assert remind(_at(12, 10)) == 0
    rows = Notice.objects.filter(person=place.user).order_by("created_at").values_list("kind", "about")
    told = [(kind, about.split(":")[1]) for kind, about in rows]
    assert told == [("task", str(due.public_id)), ("late", str(late.public_id)), ("late", str(due.public_id))]


def test_no_reminder_in_quiet_hours_of_the_persons_zone_or_for_what_is_done(place: Membership) -> None:
    """Tokyo is at UTC+9: 14:00 UTC is 23:00 there."""
    place.user.time_zone = "Asia/Tokyo"
    place.user.save()
    _task(place.camp, 8, 10, views=["dtl"])
    assert remind(_at(9, 14)) == 0
    _send(place, 9, ("dtl", 3))
    assert remind(_at(9, 1)) == 0
    CampTask.objects.update(swings=4)
    choose_mail(place.user, rhythm="daily", quiet_from=9, quiet_to=11)
    assert remind(_at(9, 1)) == 0
    assert remind(_at(9, 3)) == 1


def test_nobody_is_reminded_after_the_camp_in_a_closed_one_or_while_paused(place: Membership) -> None:
    _task(place.camp, 24, 28)
    Membership.objects.update(state="paused")
    assert remind(_at(27)) == 0
    Membership.objects.update(state="active")
    assert remind(_at(28) + timedelta(days=1)) == 0
    Camp.objects.update(state="closed")
    assert remind(_at(27)) == 0
