"""Answers that grew old: asked again on the student's page, and told once by a notice."""

from __future__ import annotations

from datetime import datetime

from django.db.models import OuterRef, Subquery
from django.urls import reverse

from coachhub.accounts.domain.intake import is_stale
from coachhub.accounts.domain.notices import tell
from coachhub.accounts.enums import NoticeKind
from coachhub.accounts.models import Intake
from coachhub.camps.domain.care import care_of
from coachhub.camps.enums import CampState, MemberState
from coachhub.camps.models import Camp, Membership


def remind_of_old_answers(now: datetime) -> int:
    """For the sweep: once for each version of the answers, in camps that are open and not over."""
    camps = Camp.objects.filter(state=CampState.OPEN, ends_on__gte=now.date())
    return sum(_remind(camp, now) for camp in camps)


def _remind(camp: Camp, now: datetime) -> int:
    newest = Intake.objects.filter(user=OuterRef("user")).order_by("-created_at", "-pk")
    rows = Membership.objects.students().filter(camp=camp, state=MemberState.ACTIVE)
    ids = rows.annotate(intake=Subquery(newest.values("pk")[:1])).values("intake")
    weeks, told = care_of(camp).intake_weeks, 0
    for intake in Intake.objects.filter(pk__in=ids).select_related("user"):
        if is_stale(intake, now=now, weeks=weeks, starts_on=camp.starts_on):
            path = reverse("account:intake")
            about, scope = intake.public_id, camp.public_id
            told += bool(tell(intake.user, NoticeKind.STALE, about=about, path=path, scope=scope, now=now))
    return told
