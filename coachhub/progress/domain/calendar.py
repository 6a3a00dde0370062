"""A person's camps and tasks as an iCalendar feed (RFC 5545), behind an address that only that person knows."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.core import signing
from django.urls import reverse
from icalendar import Calendar, Event

from coachhub.accounts.models import User
from coachhub.camps.domain.plan import due_at
from coachhub.camps.enums import CampState, Role
from coachhub.camps.models import CalendarKey, Camp, CampTask, Membership
from coachhub.progress.domain.plan import plan_of

SALT = "camps.calendar"
# How long before the end of a task its entry begins.
SHOWN_BEFORE = timedelta(hours=1)


def renew_key(person: User, *, now: datetime) -> CalendarKey:
    """A new address; the old one ends."""
    fields = {"nonce": uuid.uuid4(), "made_at": now}
    return CalendarKey.objects.update_or_create(person=person, defaults=fields)[0]


def end_key(person: User) -> None:
    CalendarKey.objects.filter(person=person).delete()


def key_of(person: User) -> CalendarKey | None:
    return CalendarKey.objects.filter(person=person).first()


def token_of(key: CalendarKey) -> str:
    return signing.dumps(str(key.nonce), salt=SALT)


def person_of_token(token: str) -> User | None:
    """Whose calendar it opens; None for a forged, renewed or ended address, and for a person who may not sign in."""
    try:
        nonce = signing.loads(token, salt=SALT)
    except signing.BadSignature:
        return None
    key = CalendarKey.objects.select_related("person").filter(nonce=nonce, person__is_active=True).first()
    return key.person if key else None


def calendar_of(person: User, *, now: datetime) -> Calendar:
    """Each camp as whole days, each task as the hour before it ends, in the camp's zone."""
    calendar = Calendar()
    calendar.add("prodid", f"-//{settings.SITE_NAME}//camp calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", settings.SITE_NAME)
    rows = Membership.objects.present(person).filter(camp__state=CampState.OPEN).select_related("camp")
    seen: set[int] = set()
    for place in rows.order_by("camp__starts_on", "pk"):
        if place.camp_id in seen:
            continue
        seen.add(place.camp_id)
        calendar.add_component(_camp(place.camp))
        for task, is_done in _tasks(place, now):
            calendar.add_component(_task(task, is_done=is_done))
    # RFC 5545, 3.2.19: each TZID that is used has its VTIMEZONE.
    calendar.add_missing_timezones()
    return calendar


def _tasks(place: Membership, now: datetime) -> Iterator[tuple[CampTask, bool]]:
    if place.role == Role.STUDENT:
        yield from ((one.task, one.is_done) for one in plan_of(place, now=now))
        return
    for task in place.camp.tasks.standing():
        yield task, False


def _camp(camp: Camp) -> Event:
    event = _event(camp.public_id, camp.created_at)
    event.add("summary", camp.name)
    event.add("dtstart", camp.starts_on)
    # RFC 5545, 3.6.1: the end is not part of the event.
    event.add("dtend", camp.ends_on + timedelta(days=1))
    return event


def _task(task: CampTask, *, is_done: bool) -> Event:
    end = due_at(task)
    event = _event(task.public_id, task.created_at)
    event.add("summary", f"Done: {task.words}" if is_done else f"Due: {task.words}")
    event.add("description", task.note or task.camp.name)
    event.add("dtstart", (end - SHOWN_BEFORE).astimezone(task.camp.zone))
    event.add("dtend", end)
    event.add("url", settings.SITE_URL + reverse("home"))
    return event


def _event(public_id: uuid.UUID, stamp: datetime) -> Event:
    event = Event()
    event.add("uid", f"{public_id}@{urlsplit(settings.SITE_URL).hostname or 'localhost'}")
    event.add("dtstamp", stamp)
    # It takes up nobody's day.
    event.add("transp", "TRANSPARENT")
    return event
