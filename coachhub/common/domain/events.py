from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from coachhub.common.models import Event, PublicModel


def record(
    verb: str,
    thing: PublicModel,
    *,
    by: Any | None,
    now: datetime,
    scope: UUID | None = None,
    **detail: object,
) -> Event:
    """Write down that ``by`` did ``verb`` to ``thing``; ids and words only, never names."""
    return Event.objects.create(
        at=now,
        actor=by if by is not None and by.is_authenticated else None,
        verb=verb,
        thing=thing._meta.label_lower,
        thing_id=thing.public_id,
        scope_id=scope,
        detail=detail,
    )
