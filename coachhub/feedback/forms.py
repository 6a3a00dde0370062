"""What a coach sends about a review from the queue."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from django import forms
from django.utils import timezone

from coachhub.accounts.enums import AlertGround
from coachhub.feedback.domain.alerts import LONGEST_WORDS
from coachhub.feedback.domain.claims import NOTE_LENGTH
from coachhub.feedback.domain.threads import LONGEST_MESSAGE

MORNING = time(8)


def _in_hours(now: datetime) -> datetime:
    return now + timedelta(hours=3)


def _tomorrow(now: datetime) -> datetime:
    """Eight o'clock where the coach is, not where the server is."""
    day = timezone.localtime(now).date() + timedelta(days=1)
    return timezone.make_aware(datetime.combine(day, MORNING))


def _in_two_days(now: datetime) -> datetime:
    return _tomorrow(now) + timedelta(days=1)


WAITS = {
    "hours": ("for three hours", _in_hours),
    "tomorrow": ("until tomorrow, 8:00", _tomorrow),
    "two_days": ("until the day after, 8:00", _in_two_days),
}


class DeferForm(forms.Form):
    wait = forms.ChoiceField(
        label="Put off",
        choices=[(key, words) for key, (words, _) in WAITS.items()],
        error_messages={"required": "Choose for how long.", "invalid_choice": "Choose for how long."},
    )

    def until(self, now: datetime) -> datetime:
        return WAITS[self.cleaned_data["wait"]][1](now)


class HandOverForm(forms.Form):
    to = forms.UUIDField(
        label="Hand over to",
        error_messages={"required": "Choose a coach.", "invalid": "Choose a coach."},
    )
    note = forms.CharField(
        label="Note that only coaches and the organiser read", max_length=NOTE_LENGTH, required=False
    )


class WriteForm(forms.Form):
    token = forms.UUIDField(widget=forms.HiddenInput, required=False)
    text = forms.CharField(
        label="Your message",
        max_length=LONGEST_MESSAGE,
        widget=forms.Textarea(attrs={"rows": 4, "maxlength": LONGEST_MESSAGE}),
        error_messages={
            "required": "Write something first.",
            "max_length": "A message can have %(limit_value)d characters; yours has %(show_value)d. Send it in two.",
        },
    )


class ClearAlertForm(forms.Form):
    ground = forms.ChoiceField(
        label="Why?",
        choices=[("", "choose"), *AlertGround.choices],
        error_messages={"required": "Choose why the alert no longer stands."},
    )
    words = forms.CharField(
        label="What the student said when you asked",
        max_length=LONGEST_WORDS,
        widget=forms.Textarea(attrs={"rows": 2, "maxlength": LONGEST_WORDS}),
        error_messages={"required": "Write what the student said when you asked."},
    )
