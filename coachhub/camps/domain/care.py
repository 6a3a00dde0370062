"""The camp's bounds for minors. Common practice, no study: fewer balls than grown-ups, whole days of rest in the week.

Facts behind the words shown: hours of training in a week above the years of age, or above 16, are to be watched; one or
two days of rest a week (AOSSM consensus, AMSSM 2014, AAP, NATA 2019; grade S2). The number of balls is grade C.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from coachhub.accounts.models import User
from coachhub.camps.care_models import BALLS_PER_DAY, DAYS_PER_WEEK, INTAKE_WEEKS
from coachhub.camps.models import Camp, CampCare
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record

MOST_HOURS = 16


@dataclass(frozen=True)
class Care:
    balls_per_day: int = BALLS_PER_DAY
    days_per_week: int = DAYS_PER_WEEK
    intake_weeks: int = INTAKE_WEEKS


def care_of(camp: Camp) -> Care:
    row = CampCare.objects.filter(camp=camp).first()
    return Care(row.balls_per_day, row.days_per_week, row.intake_weeks) if row else Care()


@transaction.atomic
def set_care(camp: Camp, care: Care, *, by: User, now: datetime) -> CampCare:
    """Change the camp's bounds; nobody allows a minor more than the outer limits."""
    for name, low, high in (("balls_per_day", 5, 200), ("days_per_week", 1, 6), ("intake_weeks", 2, 26)):
        if not low <= getattr(care, name) <= high:
            raise RuleBroken(name, f"Give a number from {low} to {high}.")
    row, _ = CampCare.objects.update_or_create(
        camp=camp,
        defaults={
            "balls_per_day": care.balls_per_day,
            "days_per_week": care.days_per_week,
            "intake_weeks": care.intake_weeks,
        },
        create_defaults={
            "balls_per_day": care.balls_per_day,
            "days_per_week": care.days_per_week,
            "intake_weeks": care.intake_weeks,
            "created_at": now,
        },
    )
    record(
        "camp.care_set",
        row,
        by=by,
        now=now,
        scope=camp.public_id,
        balls=care.balls_per_day,
        days=care.days_per_week,
    )
    return row


def most_hours(age: int) -> int:
    """Hours of practice in a week from which on it is to be watched."""
    return min(age, MOST_HOURS)
