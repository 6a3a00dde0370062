from __future__ import annotations

from typing import Any

from django import forms

from coachhub.feedback.domain.practice import LONGEST_NOTE, MOST_BALLS
from coachhub.feedback.domain.threads import LONGEST_MESSAGE
from coachhub.feedback.enums import PracticeKind
from coachhub.videos.enums import Intent


class ReplyForm(forms.Form):
    token = forms.UUIDField(widget=forms.HiddenInput)
    text = forms.CharField(
        label="Your reply",
        max_length=LONGEST_MESSAGE,
        widget=forms.Textarea(attrs={"rows": 3, "maxlength": LONGEST_MESSAGE}),
        error_messages={
            "required": "Write something first.",
            "max_length": "A message can have %(limit_value)d characters; yours has %(show_value)d. Send it in two.",
        },
    )


class QuestionForm(forms.Form):
    """The own words, and plain choices of which none has to fit."""

    token = forms.UUIDField(widget=forms.HiddenInput)
    text = forms.CharField(
        label="In your own words",
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3, "maxlength": 1000}),
    )
    chosen = forms.MultipleChoiceField(
        label="Which of these do you try? None is fine.",
        required=False,
        choices=[choice for choice in Intent.choices if choice[0].startswith("bel_")],
        widget=forms.CheckboxSelectMultiple,
    )

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if not (data.get("text") or "").strip() and not data.get("chosen"):
            raise forms.ValidationError("Write a few words, or choose what you try.")
        return data

    def first_error(self) -> str:
        errors: Any = self.errors
        return str(next(iter(errors.values()))[0])


class PracticeForm(forms.Form):
    """Sent by one of several buttons, each with its own kind or number of balls."""

    token = forms.UUIDField()
    kind = forms.ChoiceField(choices=PracticeKind.choices)
    balls = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=MOST_BALLS,
        error_messages={"invalid": "Give the number of balls as a whole number."},
    )
    on_day = forms.DateField(required=False)
    note = forms.CharField(required=False, max_length=LONGEST_NOTE)

    def first_error(self) -> str:
        errors: Any = self.errors
        return str(next(iter(errors.values()))[0])
