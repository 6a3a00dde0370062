"""Browsers in which a person is signed in, and signing them out from elsewhere."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import F

from coachhub.accounts.models import Door, User
from coachhub.common.domain.events import record

NOTED_EVERY = timedelta(minutes=15)
# Where a session keeps the time at which it was last noted.
SEEN = "door_seen"
# First match names it: most browsers also say that they are Safari, and some that they are Chrome.
_BROWSERS = (
    ("Edg", "Edge"),
    ("OPR", "Opera"),
    ("Firefox", "Firefox"),
    ("Chrome", "Chrome"),
    ("Safari", "Safari"),
)
_SYSTEMS = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("Mac OS X", "Mac"),
    ("Linux", "Linux"),
)


def browser_words(agent: str) -> str:
    """What the browser's own name for itself says, in two words: "Firefox, Android"."""

    def first(table: tuple[tuple[str, str], ...]) -> str:
        return next((name for mark, name in table if re.search(rf"\b{mark}", agent)), "")

    return ", ".join(word for word in (first(_BROWSERS), first(_SYSTEMS)) if word)


def open_door(person: User, *, session_key: str, agent: str, now: datetime) -> Door:
    """Note a sign-in; the same session again (a new password) keeps its row."""
    door, _ = Door.objects.update_or_create(
        session_key=session_key,
        defaults={"person": person, "browser": browser_words(agent), "seen_at": now},
        create_defaults={
            "person": person,
            "browser": browser_words(agent),
            "seen_at": now,
            "created_at": now,
        },
    )
    return door


def note_seen(session_key: str, *, now: datetime) -> None:
    Door.objects.filter(session_key=session_key, seen_at__lt=now - NOTED_EVERY).update(seen_at=now)


def open_doors(person: User) -> list[Door]:
    """Those whose session still lives; the others are swept out of the table."""
    doors = list(Door.objects.filter(person=person))
    living = set(
        Session.objects.filter(session_key__in=[door.session_key for door in doors]).values_list(
            "session_key", flat=True
        )
    )
    Door.objects.filter(person=person).exclude(session_key__in=living).delete()
    return [door for door in doors if door.session_key in living]


@transaction.atomic
def close_door(door: Door, *, by: User, now: datetime) -> None:
    Session.objects.filter(session_key=door.session_key).delete()
    record("door.closed", door, by=by, now=now)
    door.delete()


@transaction.atomic
def close_all(person: User, *, by: User, now: datetime) -> int:
    """Sign the person out everywhere, in browsers that were never noted too. How many were noted."""
    doors = Door.objects.filter(person=person)
    keys = list(doors.values_list("session_key", flat=True))
    Session.objects.filter(session_key__in=keys).delete()
    doors.delete()
    # Part of what a session is checked against: no session from before holds any more.
    User.objects.filter(pk=person.pk).update(doors_closed=F("doors_closed") + 1)
    person.refresh_from_db(fields=["doors_closed"])
    record("doors.closed", person, by=by, now=now, doors=len(keys))
    return len(keys)
