from __future__ import annotations

from collections import defaultdict
from uuid import UUID

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.utils import timezone
from ninja import Router

from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.common.rules import require
from coachhub.progress.domain.judged import answered, judged_submissions
from coachhub.progress.domain.participation import participation, turnout
from coachhub.progress.domain.signs import sign_prevalence
from coachhub.progress.domain.turnaround import turnaround
from coachhub.web.api.schemas import CampOut, CohortOut, FiguresOut, MeOut, Problem, ShareOut
from coachhub.web.who import person_of

router = Router(tags=["camps"])
REFUSALS = {401: Problem, 422: Problem, 429: Problem}
OF_ONE = REFUSALS | {403: Problem, 404: Problem}


@router.get("/me", response={200: MeOut, **REFUSALS}, summary="Whose key this is", operation_id="me")
def me(request: HttpRequest) -> MeOut:
    person, key = person_of(request), request.auth  # type: ignore[attr-defined]
    return MeOut(
        id=person.public_id,
        name=person.name,
        email=person.email,
        time_zone=person.time_zone,
        key_may_write=key.may_write,
        key_ends_at=key.expires_at,
    )


@router.get("/camps", response={200: list[CampOut], **REFUSALS}, summary="Your camps", operation_id="camps")
def camps(request: HttpRequest) -> list[CampOut]:
    person = person_of(request)
    roles: dict[int, set[str]] = defaultdict(set)
    for camp_id, role in Membership.objects.present(person).values_list("camp_id", "role"):
        roles[camp_id].add(role)
    return [
        CampOut(
            id=camp.public_id,
            name=camp.name,
            starts_on=camp.starts_on,
            ends_on=camp.ends_on,
            time_zone=camp.time_zone,
            promise_hours=camp.promise_hours,
            state=camp.state,
            my_roles=sorted(roles[camp.pk]),
        )
        for camp in Camp.objects.visible_to(person)
    ]


@router.get(
    "/camps/{camp_id}/cohorts",
    response={200: list[CohortOut], **OF_ONE},
    summary="Cohorts of a camp that you are in or answer for",
    operation_id="cohorts",
)
def cohorts(request: HttpRequest, camp_id: UUID) -> list[CohortOut]:
    person = person_of(request)
    camp = get_object_or_404(Camp.objects.visible_to(person), public_id=camp_id)
    found = Cohort.objects.visible_to(person).filter(camp=camp)
    return [CohortOut(id=one.public_id, name=one.name, camp=camp.public_id) for one in found]


@router.get(
    "/cohorts/{cohort_id}/figures",
    response={200: FiguresOut, **OF_ONE},
    summary="Counts of a cohort, without names; for its coaches and organisers",
    operation_id="figures",
)
def figures(request: HttpRequest, cohort_id: UUID) -> FiguresOut:
    person = person_of(request)
    found = Cohort.objects.visible_to(person).select_related("camp")
    cohort = get_object_or_404(found, public_id=cohort_id)
    require(person, "camps.see_names", cohort)
    now = timezone.now()
    people = turnout(participation(cohort.camp, [cohort], now=now))
    times = turnaround(cohort.camp, [cohort], now=now)
    judged = judged_submissions(cohort.camp, answered(cohort.camp, [cohort]))
    return FiguresOut(
        cohort=cohort.public_id,
        students=people.students,
        with_intake=people.with_intake,
        ever_sent=people.ever_sent,
        due_this_week=people.due,
        promise_hours=times.promise_hours,
        answered=len(times.published),
        answered_in_time=times.kept,
        overdue=times.overdue,
        median_hours=times.median_hours,
        signs=[
            ShareOut(sign=row.sign, confirmed=row.confirmed, students=row.students)
            for row in sign_prevalence(judged, [])
        ],
    )
