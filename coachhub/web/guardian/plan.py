"""What a child's camp asks of the child and when, for whoever reads along."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.accounts.domain.guardians import children_of
from coachhub.camps.enums import MemberState
from coachhub.camps.models import Membership
from coachhub.progress.domain.plan import arrival_of
from coachhub.web.guardian.access import guardian_page
from coachhub.web.hellos import hellos_for
from coachhub.web.who import person_of


@require_safe
@guardian_page
def plan(request: HttpRequest, public_id: UUID) -> HttpResponse:
    reader = person_of(request)
    rows = Membership.objects.students().filter(user__in=children_of(reader)).exclude(state=MemberState.LEFT)
    place = get_object_or_404(rows.select_related("camp", "cohort", "user"), public_id=public_id)
    arrival = arrival_of(place, now=timezone.now())
    context = {
        "child": place.user,
        "place": place,
        "arrival": arrival,
        "tasks": arrival.plan,
        "hellos": hellos_for(place.cohort, reader),
    }
    return render(request, "guardian/plan.html", context)
