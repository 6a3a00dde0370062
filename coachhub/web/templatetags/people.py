"""What a student must know about consent and old answers, on top of the own pages."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import template
from django.db.models import Count
from django.utils import timezone

from coachhub.accounts.domain.consent import NEEDED_TO_SEND, standing
from coachhub.accounts.domain.guardians import guardians_of
from coachhub.accounts.domain.intake import current_intake, is_stale
from coachhub.accounts.domain.minors import is_minor, minority_of
from coachhub.accounts.models import User
from coachhub.camps.domain.care import care_of
from coachhub.camps.models import Camp, Concern
from coachhub.feedback.domain.junior_load import JuniorLoad, junior_load

register = template.Library()


@dataclass(frozen=True)
class Standing:
    """``consent``: "", or who has to agree: "guardian", "self", "grown"."""

    consent: str
    answered_at: datetime | None


@register.simple_tag
def standing_of(person: User, camp: Camp) -> Standing:
    now = timezone.now()
    intake = current_intake(person)
    old = intake is not None and is_stale(
        intake, now=now, weeks=care_of(camp).intake_weeks, starts_on=camp.starts_on
    )
    return Standing(_missing(person, now) if intake else "", intake.created_at if intake and old else None)


def _missing(person: User, now: datetime) -> str:
    if standing(person) >= set(NEEDED_TO_SEND):
        return ""
    if is_minor(person, now=now):
        return "guardian"
    return "grown" if minority_of(person) else "self"


@register.simple_tag
def load_of(person: User, camp: Camp) -> JuniorLoad | None:
    return junior_load(person, camp, now=timezone.now())


@register.simple_tag
def open_concerns(reader: User) -> dict[int, int]:
    """How many concerns wait for an answer, by camp, of those that the reader may read."""
    rows = Concern.objects.visible_to(reader).filter(answered_at=None).order_by()
    return dict(rows.values_list("camp_id").annotate(n=Count("pk")))


@register.simple_tag
def guarded(person: User) -> dict[str, Any] | None:
    """For staff: that somebody is a minor, and who reads along."""
    if not is_minor(person, now=timezone.now()):
        return None
    return {"guardians": list(guardians_of(person)), "consents": standing(person)}
