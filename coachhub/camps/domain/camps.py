from __future__ import annotations

from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from typing import Any
from zoneinfo import available_timezones

from django.db import IntegrityError, transaction

from coachhub.accounts.models import User
from coachhub.camps.enums import CampState, Role
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record

LONGEST_NAME = 120
LONGEST_CAMP_DAYS = 366
MOST_PROMISE_HOURS = 24 * 14
MOST_RETENTION_DAYS = 3650


@dataclass(frozen=True)
class CampPlan:
    name: str
    starts_on: date
    ends_on: date
    time_zone: str = "UTC"
    # ISO weekdays, 1 = Monday.
    rest_days: list[int] = field(default_factory=list)
    promise_hours: int = 48
    retention_days: int = 90
    students_see_trends: bool = True


@transaction.atomic
def make_camp(plan: CampPlan, *, by: User, now: datetime) -> Camp:
    """A new camp, organised by whoever makes it."""
    camp = Camp.objects.create(created_at=now, **_checked(plan))
    Membership.objects.create(camp=camp, user=by, role=Role.ORGANISER, created_at=now)
    record("camp.made", camp, by=by, now=now, scope=camp.public_id)
    return camp


@transaction.atomic
def edit_camp(camp: Camp, plan: CampPlan, *, by: User, now: datetime) -> Camp:
    """Change the plan. Times already promised to students stay as they were given."""
    fields = _checked(plan)
    changed = sorted(name for name, value in fields.items() if getattr(camp, name) != value)
    for name in changed:
        setattr(camp, name, fields[name])
    if changed:
        camp.save(update_fields=changed)
        record("camp.edited", camp, by=by, now=now, scope=camp.public_id, fields=changed)
    return camp


@transaction.atomic
def close_camp(camp: Camp, *, by: User, now: datetime) -> Camp:
    return _move(camp, CampState.OPEN, CampState.CLOSED, by=by, now=now)


@transaction.atomic
def reopen_camp(camp: Camp, *, by: User, now: datetime) -> Camp:
    return _move(camp, CampState.CLOSED, CampState.OPEN, by=by, now=now)


def _move(camp: Camp, old: str, new: str, *, by: User, now: datetime) -> Camp:
    """Closing twice closes once."""
    if Camp.objects.filter(pk=camp.pk, state=old).update(state=new):
        record(f"camp.{new}", camp, by=by, now=now, scope=camp.public_id)
    camp.refresh_from_db(fields=["state"])
    return camp


@transaction.atomic
def make_cohort(camp: Camp, name: str, *, by: User, now: datetime) -> Cohort:
    words = _name(name)
    try:
        with transaction.atomic():
            cohort = Cohort.objects.create(camp=camp, name=words, created_at=now)
    except IntegrityError as error:
        raise _name_taken(words) from error
    record("cohort.made", cohort, by=by, now=now, scope=camp.public_id)
    return cohort


@transaction.atomic
def rename_cohort(cohort: Cohort, name: str, *, by: User, now: datetime) -> Cohort:
    words = _name(name)
    try:
        with transaction.atomic():
            Cohort.objects.filter(pk=cohort.pk).update(name=words)
    except IntegrityError as error:
        raise _name_taken(words) from error
    cohort.name = words
    record("cohort.renamed", cohort, by=by, now=now, scope=cohort.camp.public_id)
    return cohort


def _name_taken(name: str) -> RuleBroken:
    return RuleBroken(
        "cohort_name_taken", f"This camp has a cohort called “{name}” already. Choose another name."
    )


def _name(name: str) -> str:
    words = " ".join(name.split())
    if not 1 <= len(words) <= LONGEST_NAME:
        raise ValueError(f"name must have 1 to {LONGEST_NAME} characters, not {len(words)}")
    return words


def _checked(plan: CampPlan) -> dict[str, Any]:
    fields = asdict(plan) | {"name": _name(plan.name), "rest_days": sorted(set(plan.rest_days))}
    if plan.ends_on < plan.starts_on:
        raise RuleBroken(
            "ends_before_start", "The camp's last day lies before its first. Swap or correct them."
        )
    if (plan.ends_on - plan.starts_on).days >= LONGEST_CAMP_DAYS:
        raise RuleBroken("too_long", f"A camp lasts at most {LONGEST_CAMP_DAYS} days. Make two camps of it.")
    if plan.time_zone not in available_timezones():
        raise ValueError(f"time_zone must be a name of the IANA time zone database, not {plan.time_zone!r}")
    if not set(plan.rest_days) <= set(range(1, 8)):
        raise ValueError(f"rest_days must be ISO weekdays 1 to 7, not {plan.rest_days!r}")
    if len(fields["rest_days"]) == 7:
        raise RuleBroken(
            "only_rest", "With seven rest days a week no answer could ever be promised. Untick one."
        )
    _within("promise_hours", plan.promise_hours, 1, MOST_PROMISE_HOURS)
    _within("retention_days", plan.retention_days, 1, MOST_RETENTION_DAYS)
    return fields


def _within(name: str, value: int, low: int, high: int) -> None:
    if not low <= value <= high:
        raise ValueError(f"{name} must be {low} to {high}, not {value!r}")
