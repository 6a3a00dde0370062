"""Practice planned against practice done, student by student; in the order of names, never as a ranking."""

from __future__ import annotations

from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.accounts.domain.consent import allowing
from coachhub.accounts.enums import Purpose
from coachhub.camps.enums import MemberState
from coachhub.camps.models import Membership
from coachhub.feedback.domain.adherence import adherence
from coachhub.web.organiser.access import cohort_for


@require_safe
@login_required
def practice(request: HttpRequest, public_id: UUID) -> HttpResponse:
    cohort = cohort_for(request, public_id, "camps.see_participation")
    places = Membership.objects.students().filter(cohort=cohort).exclude(state=MemberState.LEFT)
    # Without the agreement that coaches may see it, an organiser doesn't either.
    shown = list(
        places.filter(user__in=allowing(Purpose.FEEDBACK)).select_related("user").order_by("user__name")
    )
    found = adherence([place.user_id for place in shown], cohort.camp, now=timezone.now())
    rows = [(place, next((a for a in found[place.user_id] if a.is_current), None)) for place in shown]
    context = {"cohort": cohort, "camp": cohort.camp, "rows": rows}
    return render(request, "organiser/practice.html", context)
