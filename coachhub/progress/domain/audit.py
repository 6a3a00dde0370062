"""Who changed and who saw what in a camp, newest first: rows that are only ever added to, put into words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from heapq import merge
from itertools import islice
from typing import Any
from uuid import UUID

from django.db.models import Model, QuerySet

from coachhub.accounts.models import User
from coachhub.camps.models import Camp, Membership
from coachhub.common.models import Event, Sight
from coachhub.feedback.models import Message, Practice, Review, Thread
from coachhub.swings.models import Readout, Swing
from coachhub.videos.models import Clip, Submission

PAGE = 100
PORTION = 1000


@dataclass(frozen=True)
class Entry:
    at: datetime
    # None: the site itself, or somebody whose account is gone.
    actor: str
    verb: str
    thing: str
    # The student whom the thing concerns, if it can still be found.
    about: str
    detail: dict[str, Any]
    is_sight: bool


@dataclass(frozen=True)
class Wanted:
    """What to show: of whom (a member's user), changes or looks, before a time."""

    actor: User | None = None
    about: User | None = None
    kind: str = ""
    before: datetime | None = None


# From a kind of thing to the id and name of the student it concerns.
_OWNERS: dict[str, tuple[type[Model], str]] = {
    "videos.submission": (Submission, "student"),
    "videos.clip": (Clip, "submission__student"),
    "swings.swing": (Swing, "clip__submission__student"),
    "swings.readout": (Readout, "swing__clip__submission__student"),
    "feedback.review": (Review, "submission__student"),
    "feedback.thread": (Thread, "student"),
    "feedback.message": (Message, "thread__student"),
    "feedback.practice": (Practice, "review__submission__student"),
    "camps.membership": (Membership, "user"),
    "accounts.user": (User, ""),
}


def audit_log(camp: Camp, wanted: Wanted | None = None) -> list[Entry]:
    """At most ``PAGE`` entries; ask again with ``before`` of the last one for those before."""
    wanted = wanted or Wanted()
    rows: list[tuple[datetime, Any, bool]] = []
    if wanted.kind != "sight":
        rows += [(row.at, row, False) for row in _events(camp, wanted)]
    if wanted.kind != "change":
        rows += [(row.at, row, True) for row in _sights(camp, wanted)]
    rows.sort(key=lambda row: (row[0], row[1].pk), reverse=True)
    rows = rows[:PAGE]
    owners = _owners((row.thing, row.thing_id) for _, row, _ in rows)
    return [_entry(row, is_sight, owners) for _, row, is_sight in rows]


def whole_log(camp: Camp) -> Iterator[Entry]:
    """Every entry, the newest first, read in portions: a long camp has very many."""
    portions = {"scope_id": camp.public_id}
    events = Event.objects.filter(**portions).select_related("actor").order_by("-at", "-pk")
    sights = Sight.objects.filter(**portions).select_related("person").order_by("-at", "-pk")
    lines: Iterator[Event | Sight] = merge(
        events.iterator(PORTION), sights.iterator(PORTION), key=lambda row: (row.at, row.pk), reverse=True
    )
    while rows := list(islice(lines, PORTION)):
        owners = _owners((row.thing, row.thing_id) for row in rows)
        yield from (_entry(row, isinstance(row, Sight), owners) for row in rows)


def _events(camp: Camp, wanted: Wanted) -> Iterable[Event]:
    rows = Event.objects.filter(scope_id=camp.public_id).select_related("actor")
    if wanted.actor is not None:
        rows = rows.filter(actor=wanted.actor)
    return _cut(rows, wanted)


def _sights(camp: Camp, wanted: Wanted) -> Iterable[Sight]:
    rows = Sight.objects.filter(scope_id=camp.public_id).select_related("person")
    if wanted.actor is not None:
        rows = rows.filter(person=wanted.actor)
    return _cut(rows, wanted)


def _cut(rows: QuerySet[Any], wanted: Wanted) -> Iterable[Any]:
    if wanted.before is not None:
        rows = rows.filter(at__lt=wanted.before)
    if wanted.about is not None:
        rows = rows.filter(thing_id__in=_things_of(wanted.about))
    return rows.order_by("-at", "-pk")[:PAGE]


def _things_of(person: User) -> list[UUID]:
    """Public ids of everything that concerns this student."""
    found = [person.public_id]
    for model, way in _OWNERS.values():
        if way:
            rows = model._default_manager.filter(**{way: person})
            found += list(rows.values_list("public_id", flat=True))
    return found


def _owners(things: Iterable[tuple[str, UUID]]) -> dict[UUID, str]:
    """Names of the students concerned, one query for each kind of thing on the page."""
    wanted: dict[str, set[UUID]] = defaultdict(set)
    for thing, thing_id in things:
        wanted[thing].add(thing_id)
    names: dict[UUID, str] = {}
    for thing, ids in wanted.items():
        if thing in _OWNERS:
            model, way = _OWNERS[thing]
            rows = model._default_manager.filter(public_id__in=ids)
            names |= dict(rows.values_list("public_id", f"{way}__name" if way else "name"))
    return names


def _entry(row: Event | Sight, is_sight: bool, owners: dict[UUID, str]) -> Entry:
    actor = row.person if isinstance(row, Sight) else row.actor
    return Entry(
        at=row.at,
        actor=actor.name if actor else "",
        verb="saw" if isinstance(row, Sight) else row.verb,
        thing=row.thing,
        about=owners.get(row.thing_id) or "",
        detail={} if isinstance(row, Sight) else row.detail,
        is_sight=is_sight,
    )
