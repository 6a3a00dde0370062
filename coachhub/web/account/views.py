"""Signing in and out, passwords, and the page about oneself."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import views as auth_views
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse, reverse_lazy
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from coachhub.accounts.domain.health import advice_for
from coachhub.accounts.domain.intake import current_intake
from coachhub.accounts.domain.minors import minority_of
from coachhub.accounts.domain.people import edit_person
from coachhub.accounts.domain.second_factor import has_second_factor
from coachhub.accounts.forms import AboutMeForm, ResetForm, SignInForm
from coachhub.camps.models import Membership
from coachhub.web.account.entering import await_code, let_in, note_door
from coachhub.web.account.origin import origin_of
from coachhub.web.account.summary import summary_of
from coachhub.web.who import person_of


class SignIn(auth_views.LoginView):
    template_name = "account/sign_in.html"
    form_class = SignInForm
    redirect_authenticated_user = True

    def get_form_kwargs(self) -> dict[str, Any]:
        known = {"origin": origin_of(self.request), "now": timezone.now()}
        return super().get_form_kwargs() | known

    def form_valid(self, form: Any) -> HttpResponse:
        person = form.get_user()
        if has_second_factor(person):
            await_code(self.request, person, self.get_redirect_url())
            return redirect("account:code")
        let_in(self.request, person)
        return redirect(self.get_success_url())

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        # The framework's view would call the site by its host.
        return super().get_context_data(**kwargs) | {"site_name": settings.SITE_NAME}


class SignOut(auth_views.LogoutView):
    http_method_names = ["post"]

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().post(request, *args, **kwargs)
        # Films and sound are kept by the browser for as long as their addresses hold; the next person at this
        # phone must not find them. Browsers heed it over HTTPS (and on localhost) alone.
        response.headers["Clear-Site-Data"] = '"cache"'
        return response


class AskReset(auth_views.PasswordResetView):
    template_name = "account/reset.html"
    form_class = ResetForm
    success_url = reverse_lazy("account:reset-sent")

    def get_form_kwargs(self) -> dict[str, Any]:
        known = {"origin": origin_of(self.request), "now": timezone.now()}
        return super().get_form_kwargs() | known


class ResetSent(auth_views.PasswordResetDoneView):
    template_name = "account/reset_sent.html"


class SetPassword(auth_views.PasswordResetConfirmView):
    template_name = "account/reset_confirm.html"
    success_url = reverse_lazy("account:sign-in")

    def form_valid(self, form: Any) -> HttpResponse:
        messages.success(self.request, "Your new password is set. Sign in with it.")
        return super().form_valid(form)


class ChangePassword(auth_views.PasswordChangeView):
    template_name = "account/password.html"
    success_url = reverse_lazy("account:me")

    def form_valid(self, form: Any) -> HttpResponse:
        messages.success(self.request, "Your password is changed. Other devices were signed out.")
        response = super().form_valid(form)
        note_door(self.request, person_of(self.request))
        return response


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def me(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    initial = {"name": person.name, "time_zone": person.time_zone, "units": person.units}
    form = AboutMeForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        edit_person(person, **form.cleaned_data, by=person, now=timezone.now())
        messages.success(request, "Saved.")
        return redirect("account:me")
    intake = current_intake(person)
    memberships = (
        Membership.objects.present(person).select_related("camp", "cohort").order_by("-camp__starts_on")
    )
    context = {
        "form": form,
        "intake": intake,
        "summary": summary_of(intake) if intake else [],
        "advice": advice_for(intake.red_flags) if intake else None,
        "memberships": memberships,
        "was_minor": minority_of(person) is not None,
    }
    return render(request, "account/me.html", context)


def sign_in_address(then: str) -> str:
    """The sign-in page that leads on to ``then``."""
    return f"{reverse(settings.LOGIN_URL)}?{urlencode({'next': then})}"
