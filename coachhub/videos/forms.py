"""What a student is asked about a range session, in plain choices that a thumb can hit."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any

from django import forms

from coachhub.accounts.enums import RedFlag
from coachhub.videos.domain.answers import MOST_CHARACTERS, Answers
from coachhub.videos.enums import ClubClass, Intent, MissCurve, MissHeight, MissStart, MissStrike
from coachhub.videos.models import Submission

UNSAID = ("", "can't say")
# Asked in words, so the ending of a radio button says all of it.
PAIN_CHOICES = (("no", "No"), ("yes", "Yes"))
# What a new form takes over from the last submission; the rest is asked afresh each time.
KEPT_FIELDS = (
    "club_class",
    "miss_start",
    "miss_curve",
    "miss_strike",
    "miss_height",
    "intents",
    "intent_words",
)
ANSWER_FIELDS = ("range_day", *KEPT_FIELDS, "note", "pain_today", "pain_words", "red_flags")


def _radios(choices: Any, *, unsaid: bool = False, **options: Any) -> forms.ChoiceField:
    listed = [*choices, UNSAID] if unsaid else list(choices)
    return forms.ChoiceField(choices=listed, widget=forms.RadioSelect, required=not unsaid, **options)


def _boxes(choices: Any, **options: Any) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        choices=choices, widget=forms.CheckboxSelectMultiple, required=False, **options
    )


def _words(name: str, rows: int, **options: Any) -> forms.CharField:
    return forms.CharField(
        required=False,
        max_length=MOST_CHARACTERS[name],
        widget=forms.Textarea(attrs={"rows": rows, "maxlength": MOST_CHARACTERS[name]}),
        **options,
    )


class SubmissionForm(forms.Form):
    token = forms.UUIDField(widget=forms.HiddenInput)
    range_day = forms.DateField(
        label="Which day were you at the range?", widget=forms.DateInput(attrs={"type": "date"})
    )
    club_class = _radios(
        ClubClass.choices,
        label="Which kind of club?",
        help_text="One kind for one submission: each gets its own answer.",
    )
    miss_start = _radios(MissStart.choices, unsaid=True, label="Where does the ball start?")
    miss_curve = _radios(MissCurve.choices, unsaid=True, label="How does it curve?")
    miss_strike = _radios(MissStrike.choices, unsaid=True, label="How does the strike feel?")
    miss_height = _radios(MissHeight.choices, unsaid=True, label="How high does it fly?")
    intents = _boxes(Intent.choices, label="What are you trying to do with the ball?")
    intent_words = _words("intent_words", 2, label="In your own words")
    pain_today = _radios(PAIN_CHOICES, label="Does anything hurt today?")
    pain_words = _words("pain_words", 2, label="Where and when does it hurt?")
    red_flags = _boxes(RedFlag.choices, label="Do you have any of these?")
    note = _words("note", 3, label="Anything else your coach should know?")

    def clean_pain_today(self) -> bool:
        return bool(self.cleaned_data["pain_today"] == "yes")

    def answers(self) -> Answers:
        return Answers(**{name: self.cleaned_data[name] for name in ANSWER_FIELDS})  # type: ignore[typeddict-item]


def first_values(last: Submission | None, today: date) -> dict[str, Any]:
    """A new form starts from what was said last; pain is asked afresh each time."""
    values: dict[str, Any] = {"token": uuid.uuid4(), "range_day": today}
    if last is not None:
        values |= {name: getattr(last, name) for name in KEPT_FIELDS}
    return values


def values_of(submission: Submission) -> dict[str, Any]:
    values = {name: getattr(submission, name) for name in ANSWER_FIELDS}
    return values | {
        "token": submission.public_id,
        "pain_today": "yes" if submission.pain_today else "no",
    }
