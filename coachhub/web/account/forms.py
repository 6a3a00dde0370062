"""The intake. Not in the accounts' forms, because it asks in the words of a submission: misses and intents."""

from __future__ import annotations

from typing import Any

from django import forms

from coachhub.accounts.domain.intake import MOST_PRACTICE_HOURS, Answers
from coachhub.accounts.enums import AgeBand, Hand, Level, PainNow, PainSite, RedFlag
from coachhub.accounts.models import Intake
from coachhub.videos.enums import Intent, MissCurve, MissHeight, MissStart, MissStrike


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


class IntakeForm(forms.Form):
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

    agrees_analysis = forms.BooleanField(
        label="I agree that my videos are stored and measured by a computer.",
        error_messages={
            "required": "Without this the camp can't work on your swings. You can stop here; nothing is stored."
        },
    )
    agrees_feedback = forms.BooleanField(
        label="I agree that my camp's coaches and organiser see my videos and these answers.",
        error_messages={
            "required": "Without this no coach could answer you. You can stop here; nothing is stored."
        },
    )
    agrees_cohort = forms.BooleanField(
        label="A coach may show my swing to my cohort as an example (you can say no).",
        required=False,
    )

    @classmethod
    def initial_from(cls, intake: Intake | None) -> dict[str, Any]:
        if intake is None:
            return {}
        # Agreement is given anew with every version, never carried over by a ticked box.
        carried = set(cls.base_fields) - {"agrees_analysis", "agrees_feedback", "agrees_cohort"}
        return {name: getattr(intake, name) for name in carried}

    def clean(self) -> dict[str, Any]:
        data = dict(super().clean() or {})
        if data.get("pain") == PainNow.NOW and not (data.get("pain_sites") or data.get("pain_words")):
            self.add_error("pain_sites", "Say where it hurts, so that no drill works against it.")
        return data

    def answers(self) -> Answers:
        return Answers(**self.cleaned_data)
