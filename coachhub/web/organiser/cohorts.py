from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from coachhub.camps.domain import camps as verbs
from coachhub.camps.domain.invitations import came_by, link_of
from coachhub.camps.domain.members import assign_coach, set_member_state
from coachhub.camps.enums import MemberState, Role
from coachhub.camps.forms import CoachForm, CohortForm, InviteForm
from coachhub.camps.models import Cohort, Invitation, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can
from coachhub.progress.domain.participation import participation, turnout
from coachhub.web.organiser.access import cohort_for, explain, member_for
from coachhub.web.who import person_of

SHOWN_INVITATIONS = 100


@login_required
@require_safe
def cohort(request: HttpRequest, public_id: UUID) -> HttpResponse:
    return cohort_page(request, cohort_for(request, public_id, "camps.see_participation"))


def cohort_page(request: HttpRequest, cohort: Cohort, invite_form: InviteForm | None = None) -> HttpResponse:
    now = timezone.now()
    context = _people(cohort, now) | _invitations(request, cohort, now)
    context |= {
        "camp": cohort.camp,
        "cohort": cohort,
        "invite_form": invite_form or InviteForm(),
        "rename_form": CohortForm(initial={"name": cohort.name}, prefix="rename"),
        "may_invite": can(person_of(request), "camps.invite", cohort),
    }
    return render(request, "organiser/cohort.html", context)


def _people(cohort: Cohort, now: datetime) -> dict[str, Any]:
    rows = participation(cohort.camp, [cohort], now=now)
    coaches = Membership.objects.filter(cohort=cohort, role=Role.COACH).select_related("user")
    return {
        "rows": rows,
        "turnout": turnout(rows),
        "coaches": coaches.order_by("state", "user__name"),
        "coach_form": CoachForm(cohort=cohort),
    }


def _invitations(request: HttpRequest, cohort: Cohort, now: datetime) -> dict[str, Any]:
    rows = Invitation.objects.visible_to(person_of(request)).filter(cohort=cohort)
    recent = rows.select_related("cohort__camp", "mail")[:SHOWN_INVITATIONS]
    came = came_by(recent)
    return {
        "invitations": [
            (each, link_of(each), state_words(each, now), came.get(each.public_id, [])) for each in recent
        ]
    }


def state_words(invitation: Invitation, now: datetime) -> tuple[str, str]:
    """A word for people and whether the link still works (``open``) or not (``over``)."""
    if invitation.withdrawn_at is not None:
        return "taken back", "over"
    if invitation.uses >= invitation.most_uses:
        return gettext("used"), "over"
    if invitation.expires_at <= now:
        return "run out", "over"
    used = f", used {invitation.uses} of {invitation.most_uses} times" if invitation.most_uses > 1 else ""
    return f"open{used}", "open"


@login_required
@require_POST
def rename(request: HttpRequest, public_id: UUID) -> HttpResponse:
    cohort = cohort_for(request, public_id, "camps.edit")
    form = CohortForm(request.POST, prefix="rename")
    if form.is_valid():
        try:
            verbs.rename_cohort(cohort, form.cleaned_data["name"], by=person_of(request), now=timezone.now())
            messages.success(request, "Renamed.")
        except RuleBroken as broken:
            explain(request, broken)
    else:
        messages.error(request, "A cohort needs a name of at most 120 characters.")
    return redirect("organiser:cohort", public_id)


@login_required
@require_POST
def add_coach(request: HttpRequest, public_id: UUID) -> HttpResponse:
    cohort = cohort_for(request, public_id, "camps.manage_members")
    form = CoachForm(request.POST, cohort=cohort)
    if form.is_valid():
        try:
            coach = form.cleaned_data["coach"]
            assign_coach(cohort, coach, by=person_of(request), now=timezone.now())
            messages.success(request, f"{coach.name} now coaches {cohort.name}.")
        except RuleBroken as broken:
            explain(request, broken)
    else:
        messages.error(request, "Choose one of the coaches of this camp, or send an invitation to a new one.")
    return redirect("organiser:cohort", public_id)


SAID = {
    MemberState.ACTIVE: "takes part again",
    MemberState.PAUSED: "is paused: reads on, sends nothing",
    MemberState.LEFT: "has left: no access any more, what was sent stays",
}


@login_required
@require_POST
def member_state(request: HttpRequest, public_id: UUID) -> HttpResponse:
    member = member_for(request, public_id, "camps.manage_members")
    wanted = request.POST.get("state", "")
    if wanted not in SAID:
        messages.error(request, "Choose what should change.")
    else:
        try:
            set_member_state(member, wanted, by=person_of(request), now=timezone.now())
            messages.success(request, f"{member.user.name} {SAID[MemberState(wanted)]}.")
        except RuleBroken as broken:
            explain(request, broken)
    if member.cohort is None:
        return redirect("organiser:camp", member.camp.public_id)
    return redirect("organiser:cohort", member.cohort.public_id)
