"""From where on a camp speaks of a sign: set within limits, numbered, and always able to go back."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction

from analysis.signs.bands import SHIPPED, Bands
from coachhub.accounts.models import User
from coachhub.camps.models import Camp, SignBands
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit
from coachhub.common.rules import can

LONGEST_WHY = 200


def bands_of(camp: Camp) -> tuple[int, Bands]:
    """The number of what holds now, and the bands; 0 and the shipped ones where nobody ever changed any."""
    row = camp.sign_bands.first()
    return (0, SHIPPED) if row is None else (row.number, Bands.from_json(row.changes))


@transaction.atomic
def set_bands(
    camp: Camp, bands: Bands, *, based_on: int, why: str = "", by: User, now: datetime
) -> SignBands | None:
    """Let ``bands`` hold from now on, and have what was measured judged by them. None: they hold already.

    ``based_on``: the number that the person looked at; Stale if another holds by now.
    """
    if not can(by, "camps.set_bands", camp):
        raise RuleBroken("not_staff", "Only a coach or the organiser of an open camp can change its bands.")
    words = " ".join(why.split())
    if len(words) > LONGEST_WHY:
        raise ValueError(f"why must have at most {LONGEST_WHY} characters, not {len(words)}")
    number, present = bands_of(camp)
    if number != based_on:
        raise Stale()
    if bands == present:
        return None
    row = _add(camp, number + 1, bands, words, by=by, now=now)
    record("camp.bands_set", camp, by=by, now=now, scope=camp.public_id, number=row.number)
    # upward: next stage
    from coachhub.swings.tasks import judge_anew

    after_commit(judge_anew.delay, camp.pk)
    return row


def _add(camp: Camp, number: int, bands: Bands, why: str, *, by: User, now: datetime) -> SignBands:
    try:
        with transaction.atomic():
            return SignBands.objects.create(
                camp=camp, number=number, changes=bands.to_json(), why=why, by=by, created_at=now
            )
    except IntegrityError as error:
        raise Stale() from error
