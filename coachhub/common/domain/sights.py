"""Who looked at what, for those whose video it is and for the organiser's log."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from coachhub.common.models import PublicModel, Sight


def note_sight(thing: PublicModel, *, by: Any, now: datetime, scope: UUID | None = None) -> None:
    """Write it down, once for each person, thing and hour."""
    if by is None or not by.is_authenticated:
        return
    seen = {
        "person_id": by.pk,
        "thing": thing._meta.label_lower,
        "thing_id": thing.public_id,
        "hour": now.astimezone(UTC).replace(minute=0, second=0, microsecond=0),
    }
    # Players ask for a film in many pieces: reading costs less than a refused writing.
    if not Sight.objects.filter(**seen).exists():
        Sight.objects.bulk_create([Sight(**seen, scope_id=scope, at=now)], ignore_conflicts=True)


def sights_of(label: str, public_ids: Iterable[UUID]) -> QuerySet[Sight]:
    """Who looked at these things, the latest first. ``label``: as in ``videos.clip``."""
    rows = Sight.objects.filter(thing=label, thing_id__in=list(public_ids))
    return rows.select_related("person").order_by("-at", "-pk")
