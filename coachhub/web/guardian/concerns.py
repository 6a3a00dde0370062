"""A guardian reports a concern and reads what became of it."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from coachhub.accounts.models import User
from coachhub.camps.domain.concerns import LONGEST, report_concern, staff_of
from coachhub.camps.models import Camp, Concern
from coachhub.common.domain.errors import RuleBroken
from coachhub.web.guardian.access import child_for, guardian_page, places_of
from coachhub.web.who import person_of


class ConcernForm(forms.Form):
    camp = forms.ChoiceField(label=gettext_lazy("Camp"))
    about = forms.ChoiceField(
        label=gettext_lazy("Is it about somebody of the camp?"),
        required=False,
        help_text=gettext_lazy("Whom you choose here never sees it."),
    )
    words = forms.CharField(
        label=gettext_lazy("What worries you?"),
        max_length=LONGEST,
        widget=forms.Textarea(attrs={"rows": 5}),
    )

    def __init__(self, *args: Any, camps: list[Camp], staff: list[User], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.camps = {str(camp.public_id): camp for camp in camps}
        self.staff = {str(person.public_id): person for person in staff}
        camp_field, about_field = self.fields["camp"], self.fields["about"]
        assert isinstance(camp_field, forms.ChoiceField) and isinstance(about_field, forms.ChoiceField)
        camp_field.choices = [(key, camp.name) for key, camp in self.camps.items()]
        about_field.choices = [
            ("", _("nobody, or I'd rather not say")),
            *((key, person.name) for key, person in self.staff.items()),
        ]


@require_http_methods(["GET", "HEAD", "POST"])
@guardian_page
def concerns(request: HttpRequest, public_id: UUID) -> HttpResponse:
    found = child_for(request, public_id)
    camps = [place.camp for place in places_of(found)]
    staff = {person.pk: person for camp in camps for person in staff_of(camp, found)}
    form = ConcernForm(request.POST or None, camps=camps, staff=list(staff.values()))
    if request.method == "POST" and form.is_valid() and _report(request, found, form):
        return redirect("guardian:concerns", found.public_id)
    reported = Concern.objects.visible_to(person_of(request)).filter(child=found, by=person_of(request))
    context = {"child": found, "form": form, "reported": reported.select_related("camp", "about", "taken_by")}
    return render(request, "guardian/concerns.html", context)


def _report(request: HttpRequest, child: User, form: ConcernForm) -> bool:
    data = form.cleaned_data
    try:
        report_concern(
            child,
            form.camps[data["camp"]],
            data["words"],
            about=form.staff.get(data["about"]),
            by=person_of(request),
            now=timezone.now(),
        )
    except RuleBroken as broken:
        form.add_error(None, broken.sentence)
        return False
    messages.success(request, _("Thank you. The camp's organisers read it and answer you here."))
    return True
