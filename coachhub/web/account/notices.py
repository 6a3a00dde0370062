"""What there is to know, how often it comes by mail, and one click out of the letters."""

from __future__ import annotations

from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from coachhub.accounts.domain import notices as domain
from coachhub.accounts.enums import Rhythm
from coachhub.accounts.models import Notice
from coachhub.web.who import person_of

SHOWN = 100
HOURS = [(hour, f"{hour}:00") for hour in range(24)]


class MailForm(forms.Form):
    rhythm = forms.ChoiceField(label="Letters about news", choices=Rhythm.choices, widget=forms.RadioSelect)
    quiet_from = forms.TypedChoiceField(label="No letters from", choices=HOURS, coerce=int)
    quiet_to = forms.TypedChoiceField(
        label="until", choices=HOURS, coerce=int, help_text="The same hour twice: letters at any time."
    )


@login_required
@require_safe
def notices(request: HttpRequest) -> HttpResponse:
    """The list; having been shown, they are read."""
    person = person_of(request)
    listed = list(Notice.objects.visible_to(person)[:SHOWN])
    choice = domain.choice_of(person)
    form = MailForm(initial={name: getattr(choice, name) for name in MailForm.base_fields})
    response = render(request, "account/notices.html", {"notices": listed, "form": form})
    domain.mark_read(person, now=timezone.now())
    return response


@login_required
@require_safe
def follow(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """On to what a notice is about."""
    notice = get_object_or_404(Notice.objects.visible_to(person_of(request)), public_id=public_id)
    domain.mark_read(person_of(request), now=timezone.now(), path=notice.path)
    return redirect(notice.path)


@login_required
@require_POST
def mail(request: HttpRequest) -> HttpResponse:
    form = MailForm(request.POST)
    if form.is_valid():
        domain.choose_mail(person_of(request), **form.cleaned_data)
        messages.success(request, "Saved.")
    else:
        messages.error(request, "Choose from the lists.")
    return redirect("account:notices")


@csrf_exempt  # RFC 8058: the mail program posts it, without cookies or tokens of ours; the address is signed
@require_http_methods(["GET", "HEAD", "POST"])
def unsubscribe(request: HttpRequest, token: str) -> HttpResponse:
    """Looking at the page changes nothing: programs that check mails follow links."""
    person = domain.person_unsubscribing(token)
    if person is None:
        return render(request, "account/unsubscribe.html", {"unknown": True}, status=404)
    if request.method == "POST":
        domain.unsubscribe(person)
    return render(request, "account/unsubscribe.html", {"done": request.method == "POST"})
