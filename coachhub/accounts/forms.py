from __future__ import annotations

from datetime import datetime
from functools import cache
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth import password_validation
from django.contrib.auth.forms import AuthenticationForm, PasswordResetForm
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.dates import MONTHS
from django.utils.translation import gettext_lazy as _

from coachhub.accounts.domain import limits
from coachhub.accounts.domain.minors import check_birth
from coachhub.accounts.domain.people import LONGEST_NAME
from coachhub.accounts.enums import AttemptKind, Units
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.later import after_commit


@cache
def time_zone_choices() -> list[tuple[str, Any]]:
    """Places grouped by the first part of the name; old short names ("EST5EDT", "Factory") only repeat them."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for name in sorted(available_timezones()):
        head, _, tail = name.partition("/")
        if tail and head != "Etc":
            groups.setdefault(head, []).append((name, tail.replace("_", " ").replace("/", ", ")))
    return [("UTC", "UTC"), *sorted(groups.items())]


class TimeZoneField(forms.ChoiceField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(choices=time_zone_choices, label=kwargs.pop("label", "Your time zone"), **kwargs)


class NameField(forms.CharField):
    def __init__(self, **kwargs: Any) -> None:
        widget = forms.TextInput(attrs={"autocomplete": "name"})
        super().__init__(label="Your name", max_length=LONGEST_NAME, widget=widget, **kwargs)

    def clean(self, value: Any) -> str:
        return " ".join(str(super().clean(value)).split())


class PersonForm(forms.Form):
    name = NameField()
    time_zone = TimeZoneField()


class AboutMeForm(PersonForm):
    units = forms.ChoiceField(label="Lengths in", choices=Units.choices)


class BirthForm(forms.Form):
    """Month and year of birth, asked of minors only."""

    birth_month = forms.TypedChoiceField(
        label=_("Month of birth"),
        choices=lambda: [("", _("choose"))] + [(number, MONTHS[number]) for number in range(1, 13)],
        coerce=int,
        empty_value=None,
        required=False,
    )
    birth_year = forms.IntegerField(
        label=_("Year of birth"),
        required=False,
        min_value=1900,
        max_value=2100,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    def refuse_unless_minor(self, data: dict[str, Any], *, now: datetime) -> None:
        """Mark the fields where they don't say a month of birth that makes a minor."""
        month, year = data.get("birth_month"), data.get("birth_year")
        if month is None or year is None:
            self.add_error(
                "birth_month",
                _("Under 18, give month and year of birth: so that we know when you are grown up."),
            )
            return
        try:
            check_birth(year, month, now=now)
        except RuleBroken as broken:
            self.add_error("birth_year", broken.sentence)


class NewAccountForm(PersonForm, BirthForm):
    """An account by invitation; the address may be fixed by the invitation. ``minors``: whether they may come in."""

    field_order = ("email", "name", "time_zone", "password", "is_adult", "birth_month", "birth_year")
    email = forms.EmailField(
        label="Your e-mail address",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
    password = forms.CharField(
        label="A password",
        strip=False,
        help_text="At least 10 characters. Three or four words in a row are easy to remember.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    is_adult = forms.ChoiceField(
        label=_("Your age"),
        choices=[("on", _("I am 18 or older")), ("no", _("I am under 18"))],
        widget=forms.RadioSelect,
        error_messages={"required": _("Say whether you are 18 or older.")},
    )

    def __init__(self, *args: Any, fixed_email: str = "", minors: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.minors = minors
        if not minors:
            for name in ("birth_month", "birth_year"):
                del self.fields[name]
        if fixed_email:
            self.fields["email"].disabled = True
            self.initial["email"] = fixed_email

    def clean_email(self) -> str:
        return str(self.cleaned_data["email"]).strip().lower()

    def clean(self) -> dict[str, Any]:
        data = dict(super().clean() or {})
        if password := data.get("password"):
            person = User(email=data.get("email", ""), name=data.get("name", ""))
            try:
                password_validation.validate_password(password, person)
            except ValidationError as error:
                self.add_error("password", error)
        if data.get("is_adult") == "no":
            if self.minors:
                self.refuse_unless_minor(data, now=timezone.now())
            else:
                self.add_error("is_adult", _("For this you must be 18 or older."))
        return data

    @property
    def birth(self) -> tuple[int, int] | None:
        """Year and month of birth of who said to be under 18."""
        data = self.cleaned_data
        return (data["birth_year"], data["birth_month"]) if data["is_adult"] == "no" else None


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": "This address and password don't belong together. Check both, or ask for a new password.",
        "inactive": "This account is switched off. Ask your camp's organiser.",
    }

    def __init__(self, *args: Any, origin: str = "", now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.origin, self.now = origin, now
        self.fields["username"].label = "E-mail address"
        self.fields["username"].widget = forms.EmailInput(
            attrs={"autocomplete": "username", "maxlength": 254}
        )

    def clean(self) -> dict[str, Any]:
        address = str(self.cleaned_data.get("username") or "")
        who = {"address": address, "origin": self.origin}
        if limits.blocked(AttemptKind.SIGN_IN, now=self.now, **who):
            raise ValidationError(
                "Too many wrong passwords. Wait a quarter of an hour, or ask for a new password.",
                code="blocked",
            )
        try:
            data = super().clean()
        except ValidationError:
            limits.count(AttemptKind.SIGN_IN, now=self.now, **who)
            raise
        if self.get_user() is not None:
            limits.forget(AttemptKind.SIGN_IN, **who)
        return data


class ResetForm(PasswordResetForm):
    """Says the same whether the address is known or not; the letter is written by a worker."""

    def __init__(self, *args: Any, origin: str = "", now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.origin, self.now = origin, now

    def save(self, *args: Any, **kwargs: Any) -> None:
        from coachhub.accounts.tasks import send_reset_letter

        address = self.cleaned_data["email"]
        who = {"address": address, "origin": self.origin}
        if limits.blocked(AttemptKind.RESET, now=self.now, **who):
            return
        limits.count(AttemptKind.RESET, now=self.now, **who)
        for person in self.get_users(address):
            after_commit(send_reset_letter.delay, person.pk)
