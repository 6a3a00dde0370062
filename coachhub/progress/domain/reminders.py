"""Reminding students and their guardians of tasks: due tomorrow, overdue, baseline missing. At most one a day."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.urls import reverse

from coachhub.accounts.domain.notices import REMINDERS, choice_of, day_begins, is_quiet, tell
from coachhub.accounts.enums import NoticeKind
from coachhub.accounts.models import Notice, User
from coachhub.camps.domain.weeks import local_day
from coachhub.camps.enums import CampState, MemberState
from coachhub.camps.models import Camp, Membership
from coachhub.progress.domain.plan import TaskState, plans_of

# An overdue task is called to mind once, and not after the camp.
STILL_WORTH_IT = timedelta(days=7)


def remind(now: datetime) -> int:
    """For the sweep: as often as it runs, each person hears of a task once, and of one task a day."""
    camps = Camp.objects.filter(state=CampState.OPEN, tasks__retired_at=None, tasks__isnull=False).distinct()
    return sum(_remind_camp(camp, now) for camp in camps)


def _remind_camp(camp: Camp, now: datetime) -> int:
    if local_day(camp, now) > camp.ends_on:
        return 0
    rows = Membership.objects.students().filter(camp=camp, state=MemberState.ACTIVE, user__is_active=True)
    places = list(rows.select_related("user", "camp"))
    plans = plans_of(places, now=now)
    return sum(_remind_person(place, plans[place.pk], now) for place in places)


def _remind_person(place: Membership, plan: Iterable[TaskState], now: datetime) -> int:
    person = place.user
    found = _first(place, plan, now)
    if found is None or is_quiet(choice_of(person), now) or _told_today(person, now):
        return 0
    kind, one = found
    path = reverse("student:plan") + f"?camp={place.camp.public_id}"
    told = tell(
        person,
        kind,
        about=_about(place, one),
        path=path,
        guardian_path=reverse("guardian:plan", args=[place.public_id]),
        scope=place.camp.public_id,
        words={"task": one.task.words},
        now=now,
    )
    return int(bool(told))


def _about(place: Membership, one: TaskState) -> str:
    """A guardian hears of each child's own."""
    return f"{place.public_id}:{one.task.public_id}"


def _first(
    place: Membership, plan: Iterable[TaskState], now: datetime
) -> tuple[NoticeKind, TaskState] | None:
    """What matters most and wasn't told: what can still be in time comes before what is late."""
    told = set(
        Notice.objects.filter(person=place.user, kind__in=(NoticeKind.TASK, NoticeKind.LATE)).values_list(
            "kind", "about"
        )
    )
    open_ones = [one for one in plan if not one.is_done and not one.being_checked]
    due = [(NoticeKind.TASK, one) for one in open_ones if _is_due_tomorrow(one, now)]
    late = [(NoticeKind.LATE, one) for one in open_ones if one.state == "late" and _is_fresh(one, now)]
    wanted = [*due, *sorted(late, key=lambda pair: not pair[1].task.is_baseline)]
    fresh = (pair for pair in wanted if (pair[0], _about(place, pair[1])) not in told)
    return next(fresh, None)


def _is_due_tomorrow(one: TaskState, now: datetime) -> bool:
    """Tomorrow or still today, in the camp's zone."""
    days = (one.task.due_on - local_day(one.task.camp, now)).days
    return one.state in ("open", "due") and days in (0, 1)


def _is_fresh(one: TaskState, now: datetime) -> bool:
    return one.task.is_baseline or now - one.due_at <= STILL_WORTH_IT


def _told_today(person: User, now: datetime) -> bool:
    today = Notice.objects.filter(person=person, kind__in=REMINDERS, created_at__gte=day_begins(person, now))
    return today.exists()
