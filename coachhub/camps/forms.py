from __future__ import annotations

from typing import Any

from django import forms

from coachhub.accounts.forms import TimeZoneField
from coachhub.accounts.models import User
from coachhub.camps.domain.camps import LONGEST_NAME, MOST_PROMISE_HOURS, MOST_RETENTION_DAYS, CampPlan
from coachhub.camps.domain.invitations import MOST_USES
from coachhub.camps.domain.people_list import MOST_BYTES
from coachhub.camps.enums import Role
from coachhub.camps.models import Camp, Cohort

WEEKDAYS = (
    (1, "Monday"),
    (2, "Tuesday"),
    (3, "Wednesday"),
    (4, "Thursday"),
    (5, "Friday"),
    (6, "Saturday"),
    (7, "Sunday"),
)
INVITED_ROLES = ((Role.STUDENT, "student"), (Role.COACH, "coach"))


class _Day(forms.DateInput):
    def __init__(self) -> None:
        super().__init__(attrs={"type": "date"}, format="%Y-%m-%d")


class CampForm(forms.Form):
    name = forms.CharField(label="Name of the camp", max_length=LONGEST_NAME)
    starts_on = forms.DateField(label="First day", widget=_Day())
    ends_on = forms.DateField(label="Last day", widget=_Day())
    time_zone = TimeZoneField(
        label="Time zone of the camp", help_text="Its days, weeks and promised times follow this zone."
    )
    promise_hours = forms.IntegerField(
        label="Promise an answer within (hours)",
        min_value=1,
        max_value=MOST_PROMISE_HOURS,
        initial=48,
        help_text="Counted from the moment the clips are usable. Usual are 24 to 72 hours (common practice, no study).",
    )
    rest_days = forms.TypedMultipleChoiceField(
        label="Rest days",
        choices=WEEKDAYS,
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="The promise doesn't run on these days.",
    )
    retention_days = forms.IntegerField(
        label="Keep original videos after the camp (days)",
        min_value=1,
        max_value=MOST_RETENTION_DAYS,
        initial=90,
    )
    students_see_trends = forms.BooleanField(
        label="Students see their own trends in what a coach confirmed, once the answer is out",
        required=False,
        initial=True,
    )

    @staticmethod
    def initial_from(camp: Camp) -> dict[str, Any]:
        return {name: getattr(camp, name) for name in CampForm.base_fields}

    def clean(self) -> dict[str, Any]:
        data = dict(super().clean() or {})
        first, last = data.get("starts_on"), data.get("ends_on")
        if first and last and last < first:
            self.add_error("ends_on", "The last day lies before the first.")
        return data

    def plan(self) -> CampPlan:
        return CampPlan(**self.cleaned_data)


class CohortForm(forms.Form):
    name = forms.CharField(label="Name of the cohort", max_length=LONGEST_NAME)


class InviteForm(forms.Form):
    """One person by address, or a link for several."""

    role = forms.ChoiceField(
        label="Invite a", choices=INVITED_ROLES, initial=Role.STUDENT, widget=forms.RadioSelect
    )
    email = forms.EmailField(
        label="E-mail address",
        required=False,
        max_length=254,
        help_text="With an address the link goes out by mail and works for this person only. Without one you get a "
        "link to pass on.",
    )
    name = forms.CharField(label="Name", required=False, max_length=80)
    most_uses = forms.IntegerField(
        label="How many people may use the link?",
        min_value=1,
        max_value=MOST_USES,
        initial=1,
        help_text="Only for a link without an address.",
    )


class PeopleListForm(forms.Form):
    people = forms.FileField(
        label="CSV file",
        required=False,
        help_text="One person per line: e-mail address and name, in any order, separated by comma, semicolon or tab.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
    )
    pasted = forms.CharField(
        label="Or paste the lines here",
        required=False,
        max_length=MOST_BYTES,
        widget=forms.Textarea(attrs={"rows": 6}),
    )

    def clean(self) -> dict[str, Any]:
        data = dict(super().clean() or {})
        file = data.get("people")
        if file is not None and file.size > MOST_BYTES:
            self.add_error("people", f"The file is larger than {MOST_BYTES // 1024} kB.")
        elif file is None and not data.get("pasted", "").strip() and not self.errors:
            raise forms.ValidationError("Choose a file or paste some lines.")
        return data

    def raw(self) -> bytes:
        file = self.cleaned_data["people"]
        return file.read() if file is not None else str(self.cleaned_data["pasted"]).encode()


class CoachForm(forms.Form):
    """A coach of the camp who doesn't coach this cohort yet."""

    coach = forms.ModelChoiceField(
        queryset=User.objects.none(),
        to_field_name="public_id",
        label="A coach of this camp",
        empty_label="choose",
    )

    def __init__(self, *args: Any, cohort: Cohort, **kwargs: Any) -> None:
        from coachhub.camps.domain.members import coaches_of_camp

        super().__init__(*args, **kwargs)
        here = cohort.memberships.filter(role=Role.COACH).exclude(state="left").values("user_id")
        field = self.fields["coach"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = coaches_of_camp(cohort.camp).exclude(pk__in=here)
