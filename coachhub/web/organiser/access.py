"""The way to what an organiser answers for: out of sight is not found, seen but not theirs to run is not allowed."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from coachhub.camps.models import Camp, Cohort, Invitation, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import require
from coachhub.web.who import person_of


def camp_for(request: HttpRequest, public_id: UUID, action: str) -> Camp:
    person = person_of(request)
    camp = get_object_or_404(Camp.objects.visible_to(person), public_id=public_id)
    require(person, action, camp)
    return camp


def cohort_for(request: HttpRequest, public_id: UUID, action: str) -> Cohort:
    person = person_of(request)
    rows = Cohort.objects.visible_to(person).select_related("camp")
    cohort = get_object_or_404(rows, public_id=public_id)
    require(person, action, cohort)
    return cohort


def invitation_for(request: HttpRequest, public_id: UUID, action: str) -> Invitation:
    person = person_of(request)
    rows = Invitation.objects.visible_to(person).select_related("cohort__camp")
    invitation = get_object_or_404(rows, public_id=public_id)
    require(person, action, invitation)
    return invitation


def member_for(request: HttpRequest, public_id: UUID, action: str) -> Membership:
    person = person_of(request)
    rows = Membership.objects.visible_to(person).select_related("camp", "cohort", "user")
    member = get_object_or_404(rows, public_id=public_id)
    require(person, action, member)
    return member


def explain(request: HttpRequest, broken: RuleBroken) -> None:
    messages.error(request, broken.sentence)
