"""A new camp after an old one's pattern: its rules, cohorts and own material, never its people or what they sent."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from coachhub.accounts.models import User
from coachhub.camps.domain.camps import CampPlan, make_camp
from coachhub.camps.domain.plan import copy_tasks
from coachhub.camps.models import Camp, Cohort, SignBands
from coachhub.common.domain.events import record
from coachhub.feedback.models import CampMap, Drill


@dataclass(frozen=True)
class Wanted:
    cohorts: bool = True
    bands: bool = True
    cause_map: bool = True
    drills: bool = True
    tasks: bool = True


@transaction.atomic
def copy_camp(old: Camp, plan: CampPlan, wanted: Wanted, *, by: User, now: datetime) -> Camp:
    """``by`` organises the new camp. Each copied row is the first of its history there."""
    camp = make_camp(plan, by=by, now=now)
    if wanted.cohorts:
        names = old.cohorts.values_list("name", flat=True)
        Cohort.objects.bulk_create(Cohort(camp=camp, name=name, created_at=now) for name in names)
    if wanted.bands and (bands := old.sign_bands.first()):
        why = f"as in {old.name}"[:200]
        SignBands.objects.create(camp=camp, number=1, changes=bands.changes, why=why, by=by, created_at=now)
    if wanted.cause_map and (cause_map := old.cause_maps.last()):
        what = f"as in {old.name}"[:200]
        CampMap.objects.create(
            camp=camp,
            number=1,
            base=cause_map.base,
            changes=cause_map.changes,
            what=what,
            by=by,
            created_at=now,
        )
    if wanted.drills:
        _copy_drills(old, camp, now)
    if wanted.tasks:
        copy_tasks(old, camp, by=by, now=now)
    record("camp.copied", camp, by=by, now=now, scope=camp.public_id, from_camp=str(old.public_id))
    return camp


def _copy_drills(old: Camp, camp: Camp, now: datetime) -> None:
    kept = [
        field.attname
        for field in Drill._meta.concrete_fields
        if field.attname not in ("id", "public_id", "camp_id", "created_at")
    ]
    rows = Drill.objects.filter(camp=old, retired_at=None).values(*kept)
    Drill.objects.bulk_create(Drill(camp=camp, created_at=now, **row) for row in rows)
