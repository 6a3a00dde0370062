"""What the coaches of a cohort say to it, for who reads it: students and their guardians."""

from __future__ import annotations

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort, Hello


def hellos_for(cohort: Cohort | None, reader: User) -> list[Hello]:
    if cohort is None:
        return []
    rows = Hello.objects.visible_to(reader).filter(cohort=cohort, by__isnull=False)
    return list(rows.select_related("by").prefetch_related("recordings"))
