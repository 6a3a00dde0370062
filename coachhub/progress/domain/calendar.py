"""A person's camps and tasks as an iCalendar feed (RFC 5545), behind an address that only that person knows."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.core import signing
from django.db.models import QuerySet
from django.urls import reverse
from icalendar import Calendar, Event, vText

from coachhub.accounts.domain.guardians import children_of
from coachhub.accounts.models import User
from coachhub.camps.domain.plan import due_at
from coachhub.camps.enums import CampState, MemberState, Role
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
    """Each camp as whole days, each task as the hour before it ends, in the camp's zone; for guardians the children's.

    Calendars are fetched by other people's servers: no name of a child stands in one.
    """
    calendar = Calendar()
    calendar.add("prodid", f"-//{settings.SITE_NAME}//camp calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", settings.SITE_NAME)
    seen: set[int] = set()
    for place, whose in [*((own, "") for own in _own(person)), *_of_children(person)]:
        if place.camp_id not in seen:
            calendar.add_component(_camp(place.camp))
        elif place.user_id == person.pk:
            continue  # A second role in the same camp.
        seen.add(place.camp_id)
        for task, is_done in _tasks(place, now):
            calendar.add_component(_task(task, place, is_done=is_done, whose=whose))
    # RFC 5545, 3.2.19: each TZID that is used has its VTIMEZONE.
    calendar.add_missing_timezones()
    return calendar


def _in_open_camps(rows: QuerySet[Membership]) -> QuerySet[Membership]:
    open_ones = rows.filter(camp__state=CampState.OPEN).exclude(state=MemberState.LEFT)
    return open_ones.select_related("camp", "user").order_by("camp__starts_on", "pk")


def _own(person: User) -> list[Membership]:
    return list(_in_open_camps(Membership.objects.filter(user=person)))


def _of_children(person: User) -> list[tuple[Membership, str]]:
    """With the initials of each where there are several, who may have the same task."""
    places = list(_in_open_camps(Membership.objects.students().filter(user__in=children_of(person))))
    several = len({place.user_id for place in places}) > 1
    return [(place, _initials(place.user) if several else "") for place in places]


def _initials(child: User) -> str:
    return " ".join(f"{part[0]}." for part in child.name.split())


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


def _task(task: CampTask, place: Membership, *, is_done: bool, whose: str) -> Event:
    """``whose``: initials of a guardian's child, where a guardian has several."""
    end = due_at(task)
    event = _event(task.public_id, task.created_at)
    if whose:
        event["uid"] = vText(f"{place.public_id}.{event['uid']}")
    said = f"{task.words} ({whose})" if whose else task.words
    event.add("summary", f"Done: {said}" if is_done else f"Due: {said}")
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
