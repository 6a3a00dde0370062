"""Who may have which report. Without the agreement that coaches may see it, staff get none."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Q
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from coachhub.accounts.domain.consent import allowing
from coachhub.accounts.domain.guardians import children_of
from coachhub.accounts.enums import Purpose
from coachhub.camps.enums import MemberState
from coachhub.camps.models import Cohort, Membership
from coachhub.common.rules import require
from coachhub.web.who import person_of


def student_place(request: HttpRequest, public_id: UUID) -> Membership:
    """One's own place, a child's, or that of a student one answers for."""
    person = person_of(request)
    is_here = ~Q(state=MemberState.LEFT)
    mine = is_here & (Q(user=person) | Q(user__in=children_of(person)))
    answered_for = Q(cohort__in=Cohort.objects.staffed_by(person), user__in=allowing(Purpose.FEEDBACK))
    rows = Membership.objects.students().filter(mine | answered_for).select_related("user", "camp", "cohort")
    return get_object_or_404(rows, public_id=public_id)


def cohort_of(request: HttpRequest, public_id: UUID) -> Cohort:
    seen = Cohort.objects.visible_to(person_of(request)).select_related("camp")
    cohort = get_object_or_404(seen, public_id=public_id)
    require(person_of(request), "camps.see_names", cohort)
    return cohort
