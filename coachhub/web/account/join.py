"""Coming into a cohort by an invitation link: signed in, with a new account, or after signing in."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from coachhub.accounts.domain.intake import current_intake
from coachhub.accounts.domain.minors import note_minor
from coachhub.accounts.domain.people import register
from coachhub.accounts.forms import NewAccountForm
from coachhub.accounts.models import User
from coachhub.camps.domain.invitations import accept, find, hidden_address, standing
from coachhub.camps.enums import Role
from coachhub.camps.models import Invitation, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.account.entering import let_in
from coachhub.web.account.views import sign_in_address
from coachhub.web.who import person_of

# A changed link points at nothing; the others point at something that is over.
STATUS = {"unknown": 404, "other_person": 403, "is_staff": 403, "is_student": 403}
OVER = 410


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest, token: str) -> HttpResponse:
    if request.user.is_authenticated:
        return _join_signed_in(request, token)
    try:
        invitation = find(token, now=timezone.now())
    except RuleBroken as broken:
        return _refused(request, broken)
    return _join_newcomer(request, token, invitation)


def _join_signed_in(request: HttpRequest, token: str) -> HttpResponse:
    person = person_of(request)
    try:
        if request.method == "POST":
            member = accept(token, person, now=timezone.now())
            return _welcome(request, member)
        if standing(token, person):
            return redirect("home")
        invitation = find(token, now=timezone.now())
    except RuleBroken as broken:
        return _refused(request, broken)
    if invitation.email and invitation.email != person.email:
        meant_for = hidden_address(invitation.email)
        return render(request, "account/join_other.html", {"meant_for": meant_for}, status=403)
    return render(request, "account/join.html", {"invitation": invitation})


def _join_newcomer(request: HttpRequest, token: str, invitation: Invitation) -> HttpResponse:
    initial = {"name": invitation.name, "time_zone": invitation.cohort.camp.time_zone}
    form = NewAccountForm(
        request.POST or None,
        fixed_email=invitation.email,
        minors=invitation.role == Role.STUDENT,
        initial=initial,
    )
    if request.method == "POST" and form.is_valid():
        try:
            member = _make_and_join(token, form)
        except RuleBroken as broken:
            form.add_error("email" if broken.code == "address_taken" else None, broken.sentence)
        else:
            let_in(request, member.user)
            return _welcome(request, member)
    context = {"invitation": invitation, "form": form, "sign_in": sign_in_address(request.path)}
    return render(request, "account/join.html", context)


@transaction.atomic
def _make_and_join(token: str, form: NewAccountForm) -> Membership:
    data = form.cleaned_data
    now = timezone.now()
    person: User = register(
        data["email"], name=data["name"], password=data["password"], time_zone=data["time_zone"], now=now
    )
    if form.birth is not None:
        year, month = form.birth
        note_minor(person, year=year, month=month, by=person, now=now)
    return accept(token, person, now=now)


def _welcome(request: HttpRequest, member: Membership) -> HttpResponse:
    messages.success(request, f"Welcome to {member.camp.name}.")
    if member.role == Role.STUDENT and current_intake(member.user) is None:
        return redirect("account:intake")
    return redirect("home")


def _refused(request: HttpRequest, broken: RuleBroken) -> HttpResponse:
    status = STATUS.get(broken.code, OVER)
    return render(request, "account/join_refused.html", {"sentence": broken.sentence}, status=status)
