"""The intake. Not in the accounts' forms, because it asks in the words of a submission: misses and intents."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from coachhub.accounts.domain.intake import MOST_PRACTICE_HOURS, Answers
from coachhub.accounts.enums import AgeBand, Hand, Level, PainNow, PainSite, RedFlag
from coachhub.accounts.forms import BirthForm
from coachhub.accounts.models import Intake
from coachhub.videos.enums import Intent, MissCurve, MissHeight, MissStart, MissStrike

BIRTH = ("birth_month", "birth_year")
GUARDIANS = ("guardian_1", "guardian_2")
AGREES = ("agrees_analysis", "agrees_feedback", "agrees_cohort")
ANSWERED = tuple(field.name for field in fields(Answers))


def _one(label: str, choices: Any, *, help_text: str = "", required: bool = True) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, choices=choices, help_text=help_text, required=required, widget=forms.RadioSelect
    )


def _several(label: str, choices: Any, *, help_text: str = "") -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label=label,
        choices=choices,
        help_text=help_text,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )


def _words(label: str, *, help_text: str = "", rows: int = 3) -> forms.CharField:
    return forms.CharField(
        label=label,
        help_text=help_text,
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


class IntakeForm(BirthForm):
    age_band = _one("How old are you?", AgeBand.choices)
    handedness = _one("Which way do you swing?", Hand.choices)
    level = _one("How do you play?", Level.choices)
    clubs = forms.CharField(
        label="Which clubs will you film?",
        help_text="For example: 7 iron, hybrid, driver.",
        required=False,
        max_length=200,
    )

    miss_start = _one(
        "Where does your usual miss start?",
        MissStart.choices,
        help_text="Left and right as you see them on the range.",
        required=False,
    )
    miss_curve = _one("How does it curve?", MissCurve.choices, required=False)
    miss_strike = _one("How is the strike?", MissStrike.choices, required=False)
    miss_height = _one("How high does it fly?", MissHeight.choices, required=False)

    intents = _several(
        "What are you trying to do with the ball and the club?",
        Intent.choices,
        help_text="What you do on purpose, right or wrong. Your coach reads it before looking at the swing.",
    )
    intent_words = _words("In your own words")

    goals = _words("What do you want from this camp?")
    practice_hours = forms.IntegerField(
        label="Hours of practice in a week",
        min_value=0,
        max_value=MOST_PRACTICE_HOURS,
        initial=2,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    pain = _one("Does anything hurt?", PainNow.choices)
    pain_sites = _several("Where?", PainSite.choices)
    pain_words = _words("What should your coach know about it?")
    red_flags = _several(
        "Do you have any of these?",
        RedFlag.choices,
        help_text="Each of them is a reason to see a clinician before you swing on.",
    )

    guardian_1 = forms.EmailField(
        label=_("E-mail address of a parent or guardian"),
        required=False,
        max_length=254,
        help_text=_("They get a letter with a link. Nothing can be sent before one of them has agreed."),
    )
    guardian_2 = forms.EmailField(label=_("A second parent or guardian"), required=False, max_length=254)

    agrees_analysis = forms.BooleanField(
        required=False,
        label="I agree that my videos are stored and measured by a computer.",
        error_messages={
            "required": "Without this the camp can't work on your swings. You can stop here; nothing is stored."
        },
    )
    agrees_feedback = forms.BooleanField(
        required=False,
        label="I agree that my camp's coaches and organiser see my videos and these answers.",
        error_messages={
            "required": "Without this no coach could answer you. You can stop here; nothing is stored."
        },
    )
    agrees_cohort = forms.BooleanField(
        label="A coach may show my swing to my cohort as an example (you can say no).",
        required=False,
    )

    def __init__(
        self,
        *args: Any,
        is_minor: bool = False,
        is_grown: bool = False,
        has_guardian: bool = False,
        asks_consent: bool = True,
        **kwargs: Any,
    ) -> None:
        """``is_grown``: was a minor here and is 18 by now."""
        super().__init__(*args, **kwargs)
        self.is_minor, self.has_guardian, self.asks_consent = is_minor, has_guardian, asks_consent
        bands = self.fields["age_band"]
        assert isinstance(bands, forms.ChoiceField)
        if is_minor or is_grown:
            bands.choices = [
                choice for choice in AgeBand.choices if (choice[0] == AgeBand.UNDER_18) is is_minor
            ]
        if is_minor:
            self.initial["age_band"] = AgeBand.UNDER_18
        unasked: set[str] = set()
        unasked |= {*BIRTH, *AGREES} if is_minor else set()
        unasked |= {*BIRTH, *GUARDIANS} if is_grown else set()
        unasked |= set(GUARDIANS) if has_guardian else set()
        unasked |= set() if asks_consent else set(AGREES)
        for name in unasked:
            del self.fields[name]

    @classmethod
    def initial_from(cls, intake: Intake | None) -> dict[str, Any]:
        if intake is None:
            return {}
        return {name: getattr(intake, name) for name in ANSWERED}

    def clean(self) -> dict[str, Any]:
        data = dict(super().clean() or {})
        if data.get("pain") == PainNow.NOW and not (data.get("pain_sites") or data.get("pain_words")):
            self.add_error("pain_sites", "Say where it hurts, so that no drill works against it.")
        if data.get("pain") == PainNow.NONE:
            # What isn't asked is not kept. A ticked alert is: no other answer clears it.
            data["pain_sites"] = []
        if self.is_minor or data.get("age_band") == AgeBand.UNDER_18:
            self._check_minor(data)
        elif self.asks_consent:
            for name in AGREES[:2]:
                if not data.get(name):
                    self.add_error(name, self.fields[name].error_messages["required"])
        return data

    def _check_minor(self, data: dict[str, Any]) -> None:
        if not self.is_minor:
            self.refuse_unless_minor(data, now=timezone.now())
        if not self.has_guardian and not data.get("guardian_1"):
            self.add_error("guardian_1", _("Name a parent or guardian, so that they can agree."))
        if data.get("guardian_1") and data.get("guardian_1") == data.get("guardian_2"):
            self.add_error("guardian_2", _("This is the same address twice."))

    def answers(self) -> Answers:
        return Answers(**{name: self.cleaned_data[name] for name in ANSWERED})

    @property
    def birth(self) -> tuple[int, int] | None:
        data = self.cleaned_data
        if self.is_minor or data["age_band"] != AgeBand.UNDER_18:
            return None
        return data["birth_year"], data["birth_month"]

    @property
    def guardians(self) -> list[str]:
        if self.cleaned_data["age_band"] != AgeBand.UNDER_18:
            return []
        return [address for name in GUARDIANS if (address := self.cleaned_data.get(name))]

    @property
    def agrees(self) -> list[str]:
        if not self.asks_consent or self.cleaned_data["age_band"] == AgeBand.UNDER_18:
            return []
        return [name.removeprefix("agrees_") for name in AGREES if self.cleaned_data.get(name)]
