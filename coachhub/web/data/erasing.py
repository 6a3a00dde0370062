"""Deleting in two steps: a page that says what goes and what stays, then the password."""

from __future__ import annotations

from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from coachhub.accounts.domain import limits
from coachhub.accounts.domain.guardians import answers_for
from coachhub.accounts.enums import AttemptKind
from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.camps.models import Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.progress.domain.erasure import erase_person, erase_submission, may_erase
from coachhub.videos.models import Clip, Submission
from coachhub.web.account.origin import origin_of
from coachhub.web.who import person_of


class EraseForm(forms.Form):
    sure = forms.BooleanField(label=_("I understand that this can't be taken back"))
    password = forms.CharField(
        label=_("Your password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


@sensitive_post_parameters("password")
@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def account(request: HttpRequest, public_id: UUID) -> HttpResponse:
    found, by = get_object_or_404(User, public_id=public_id), person_of(request)
    if not may_erase(found, by):
        raise Http404("not theirs")
    form = EraseForm(request.POST or None)
    if request.method == "POST" and form.is_valid() and _proven(request, form):
        name = found.name
        try:
            erase_person(found, by=by, now=timezone.now())
        except RuleBroken as broken:
            form.add_error(None, broken.sentence)
        else:
            if found.public_id == by.public_id:
                request.session.flush()
                return _cleared(render(request, "data/gone.html"), "cache", "storage")
            messages.success(request, f"Everything of {name} is deleted.")
            return _cleared(redirect("home"), "cache")
    roles = set(Membership.objects.filter(user=found).values_list("role", flat=True))
    context = {
        "person": found,
        "is_self": found.pk == by.pk,
        "form": form,
        "films": Clip.objects.filter(submission__student=found).count(),
        "writes_for_others": bool(roles & {Role.COACH, Role.ORGANISER}),
    }
    return render(request, "data/erase.html", context, status=422 if request.method == "POST" else 200)


@sensitive_post_parameters("password")
@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def submission(request: HttpRequest, public_id: UUID) -> HttpResponse:
    by = person_of(request)
    seen = Submission.objects.visible_to(by).select_related("student", "camp")
    found = get_object_or_404(seen, public_id=public_id)
    if found.student_id != by.pk and not answers_for(by, found.student):
        raise Http404("not theirs")
    form = EraseForm(request.POST or None)
    if request.method == "POST" and form.is_valid() and _proven(request, form):
        erase_submission(found, by=by, now=timezone.now())
        messages.success(request, "Deleted: films, numbers and the answer to them.")
        return _cleared(redirect("home"), "cache")
    status = 422 if request.method == "POST" else 200
    context = {"submission": found, "form": form, "films": found.clips.count()}
    return render(request, "data/erase_sent.html", context, status=status)


def _cleared(response: HttpResponse, *what: str) -> HttpResponse:
    """Copies in this browser go as well; clips and guides that wait in its stores too, where a person is gone."""
    response.headers["Clear-Site-Data"] = ", ".join(f'"{each}"' for each in what)
    return response


def _proven(request: HttpRequest, form: EraseForm) -> bool:
    """Guessing here counts as guessing at the door."""
    person, now = person_of(request), timezone.now()
    who = {"address": person.email, "origin": origin_of(request)}
    if limits.blocked(AttemptKind.SIGN_IN, now=now, **who):
        form.add_error(None, _("Too many tries. Wait an hour."))
        return False
    if person.check_password(form.cleaned_data["password"]):
        return True
    limits.count(AttemptKind.SIGN_IN, now=now, **who)
    form.add_error("password", _("This is not your password."))
    return False
