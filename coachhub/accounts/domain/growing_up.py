"""Turning eighteen: the guardians' say and sight end, and the now-adult is asked for the own consent."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.urls import reverse

from coachhub.accounts.domain.consent import recount
from coachhub.accounts.domain.minors import grows_up_on
from coachhub.accounts.domain.notices import tell
from coachhub.accounts.enums import GuardianState, NoticeKind
from coachhub.accounts.models import Guardianship, Minor, StandingConsent, User
from coachhub.common.domain.events import record


@transaction.atomic
def come_of_age(minor: Minor, *, now: datetime) -> bool:
    """Once. What the guardians agreed to holds no longer; the person decides anew, and whom to share with too."""
    if not Minor.objects.filter(pk=minor.pk, grown_at=None).update(grown_at=now):
        return False
    minor.refresh_from_db()
    rows = Guardianship.objects.filter(child=minor.person)
    rows.filter(state=GuardianState.ACTIVE).update(state=GuardianState.GROWN, ended_at=now)
    rows.filter(state=GuardianState.INVITED).update(state=GuardianState.WITHDRAWN, ended_at=now)
    record("minor.came_of_age", minor, by=None, now=now)
    recount(minor.person, now=now)
    path = reverse("account:consents")
    tell(minor.person, NoticeKind.CONSENT, about=minor.public_id, path=path, now=now)
    return True


def recount_unguarded(*, now: datetime) -> int:
    """For the sweep: no consent of a minor outlives the last guardian, however that account went."""
    guarded = Guardianship.objects.filter(state=GuardianState.ACTIVE).values("child_id")
    held = StandingConsent.objects.filter(person__minority__grown_at=None, person__minority__isnull=False)
    left = User.objects.filter(pk__in=held.exclude(person_id__in=guarded).values("person_id"))
    return len([recount(person, now=now) for person in left])


def grow_up_all(*, now: datetime) -> int:
    """For the sweep: everybody whose month of birth is over."""
    due = [
        minor
        for minor in Minor.objects.filter(grown_at=None, birth_year__lte=now.year - 18).select_related(
            "person"
        )
        if grows_up_on(minor.birth_year, minor.birth_month) <= now.date()
    ]
    return sum(come_of_age(minor, now=now) for minor in due)
