from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from coachhub.camps.domain import invitation_mail, invitations
from coachhub.camps.domain.people_list import PeopleList, read_people
from coachhub.camps.forms import InviteForm, PeopleListForm
from coachhub.camps.models import Cohort
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.organiser.access import cohort_for, explain, invitation_for
from coachhub.web.organiser.cohorts import cohort_page
from coachhub.web.who import person_of

SALT = "camps.people_list"
PREVIEW_SECONDS = 3600


@login_required
@require_POST
def invite(request: HttpRequest, public_id: UUID) -> HttpResponse:
    cohort = cohort_for(request, public_id, "camps.invite")
    form = InviteForm(request.POST)
    if not form.is_valid():
        return cohort_page(request, cohort, form)
    try:
        made = invitations.invite(cohort, **form.cleaned_data, by=person_of(request), now=timezone.now())
    except RuleBroken as broken:
        # What was typed stays.
        explain(request, broken)
        return cohort_page(request, cohort, form)
    if made.email:
        messages.success(request, f"The invitation for {made.email} is on its way.")
    else:
        messages.success(request, "The link is ready: copy it from the list below.")
    return redirect("organiser:cohort", public_id)


@login_required
@require_POST
def withdraw(request: HttpRequest, public_id: UUID) -> HttpResponse:
    invitation = invitation_for(request, public_id, "camps.withdraw_invitation")
    invitations.withdraw(invitation, by=person_of(request), now=timezone.now())
    messages.success(request, "Taken back: the link works no more. Who came in by it stays in.")
    return redirect("organiser:cohort", invitation.cohort.public_id)


@login_required
@require_POST
def mail_again(request: HttpRequest, public_id: UUID) -> HttpResponse:
    invitation = invitation_for(request, public_id, "camps.invite")
    try:
        invitation_mail.send_again(invitation, by=person_of(request), now=timezone.now())
        messages.success(request, "The letter goes out once more.")
    except RuleBroken as broken:
        explain(request, broken)
    if request.POST.get("back") == "plan":
        return redirect("organiser:plan", invitation.cohort.camp.public_id)
    return redirect("organiser:cohort", invitation.cohort.public_id)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def people_list(request: HttpRequest, public_id: UUID) -> HttpResponse:
    cohort = cohort_for(request, public_id, "camps.invite")
    form = PeopleListForm(request.POST or None, request.FILES or None)
    context = {"cohort": cohort, "camp": cohort.camp, "form": form}
    if request.method == "POST" and form.is_valid():
        try:
            at_hand = invitations.addresses_at_hand(cohort, now=timezone.now())
            found = read_people(form.raw(), at_hand=at_hand)
        except RuleBroken as broken:
            form.add_error(None, broken.sentence)
        else:
            return render(
                request,
                "organiser/people_preview.html",
                context | {"found": found, "sealed": _seal(cohort, found)},
            )
    return render(request, "organiser/people_list.html", context)


def _seal(cohort: Cohort, found: PeopleList) -> str:
    """What was previewed is what gets sent: the list travels signed through the browser, nothing is stored."""
    people = [[person.email, person.name] for person in found.people]
    return signing.dumps([str(cohort.public_id), people], salt=SALT, compress=True)


def _unseal(cohort: Cohort, sealed: str) -> list[invitations.Invited]:
    try:
        cohort_id, people = signing.loads(sealed, salt=SALT, max_age=PREVIEW_SECONDS)
    except signing.BadSignature:
        cohort_id, people = "", []
    if cohort_id != str(cohort.public_id):
        raise RuleBroken("old_preview", "This preview is too old or incomplete. Load the list again.")
    return [invitations.Invited(email=email, name=name) for email, name in people]


@login_required
@require_POST
def people_send(request: HttpRequest, public_id: UUID) -> HttpResponse:
    cohort = cohort_for(request, public_id, "camps.invite")
    sealed = request.POST.get("sealed", "")
    try:
        people = _unseal(cohort, sealed)
    except RuleBroken as broken:
        explain(request, broken)
        return redirect("organiser:people-list", public_id)
    try:
        made = invitations.invite_all(cohort, people, by=person_of(request), now=timezone.now())
    except RuleBroken as broken:
        # The list stands there for another try.
        explain(request, broken)
        context = {
            "cohort": cohort,
            "camp": cohort.camp,
            "found": PeopleList(people=people),
            "sealed": sealed,
        }
        return render(request, "organiser/people_preview.html", context)
    letters = "1 invitation is" if len(made) == 1 else f"{len(made)} invitations are"
    messages.success(request, f"{letters} on the way.")
    return redirect("organiser:cohort", public_id)
