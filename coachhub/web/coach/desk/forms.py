from __future__ import annotations

from typing import Any

from django import forms

from coachhub.feedback.domain.causes import mechanism_nodes, root_nodes
from coachhub.feedback.domain.finding import miss_sentence
from coachhub.feedback.domain.library import Suggestions, allowed_drills
from coachhub.feedback.enums import Confidence, RootKind
from coachhub.feedback.models import Drill, Finding, Review
from coachhub.swings.enums import SignKey, SwingEvent, Verdict

FINDING = ("miss", "mechanism_node", "mechanism", "root_kind", "root_node", "root", "confidence")
TEXTS = ("words", "keep", "priority", "cue", "dose")
OPEN_CHOICE = ("", "not chosen")


def _lines(rows: int, most: int) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows, "maxlength": most})


class AnswerForm(forms.Form):
    """The answer as it stands on the desk; the same fields whether a person or the autosave sends it."""

    revision = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    miss = forms.CharField(label="Where the ball goes", max_length=200, required=False)
    mechanism_node = forms.ChoiceField(label="What the club does", required=False)
    mechanism = forms.CharField(label="In your own words", max_length=300, required=False)
    root_kind = forms.ChoiceField(
        label="Where it comes from", choices=[OPEN_CHOICE, *RootKind.choices], required=False
    )
    root_node = forms.ChoiceField(label="Why", required=False)
    root = forms.CharField(label="Why, in your own words", max_length=300, required=False)
    confidence = forms.ChoiceField(
        label="How sure you are", choices=[OPEN_CHOICE, *Confidence.choices], required=False
    )
    keep = forms.CharField(label="Keep", max_length=300, required=False)
    priority = forms.CharField(label="The one thing to work on", max_length=300, required=False)
    cue = forms.CharField(label="Cue", max_length=200, required=False)
    drill = forms.ChoiceField(label="Drill", required=False)
    dose = forms.CharField(label="Dose", max_length=160, required=False)
    words = forms.CharField(
        label="Your words to the student", max_length=8000, required=False, widget=_lines(6, 8000)
    )

    def __init__(self, *args: Any, review: Review, suggestions: Suggestions, **kwargs: Any) -> None:
        kwargs.setdefault("initial", initial_of(review))
        kwargs.setdefault("auto_id", "answer-%s")
        super().__init__(*args, **kwargs)
        self.drills = drills_for(review, suggestions)
        self._offer("drill", _drill_choices(self.drills, suggestions))
        self._offer("mechanism_node", [OPEN_CHOICE, *((node.key, node.label) for node in mechanism_nodes())])
        self._offer("root_node", _root_choices())

    def _offer(self, name: str, choices: list[Any]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices

    def domain_fields(self) -> dict[str, Any]:
        """As ``save_draft`` takes them."""
        data = self.cleaned_data
        fields: dict[str, Any] = {name: data[name] for name in TEXTS}
        fields["drill"] = self.drills.get(data["drill"])
        fields["finding"] = {name: data[name] for name in FINDING}
        return fields


def initial_of(review: Review) -> dict[str, Any]:
    finding = Finding.objects.filter(review=review).first()
    initial: dict[str, Any] = {name: getattr(review, name) for name in TEXTS}
    initial["revision"] = review.revision
    initial["drill"] = str(review.drill.public_id) if review.drill else ""
    for name in FINDING:
        initial[name] = getattr(finding, name) if finding else ""
    if finding is None:
        initial["miss"] = miss_sentence(review.submission)[:200]
    return initial


def drills_for(review: Review, suggestions: Suggestions) -> dict[str, Drill]:
    """By public id; none under a red flag, and none that the student's pain forbids."""
    return {} if suggestions.stop else {str(drill.public_id): drill for drill in allowed_drills(review)}


def _drill_choices(drills: dict[str, Drill], suggestions: Suggestions) -> list[Any]:
    offered = {str(offer.drill.public_id): offer for offer in suggestions.offered}
    first = [(ident, f"{offer.drill.name} ({offer.reason})") for ident, offer in offered.items()]
    rest = [(ident, drill.name) for ident, drill in drills.items() if ident not in offered]
    choices: list[Any] = [("", "no drill")]
    if first:
        choices.append(("Suggested", first))
    if rest:
        choices.append(("Library", rest))
    return choices


def _root_choices() -> list[Any]:
    groups = [
        (str(kind.label).capitalize(), [(node.key, node.label) for node in root_nodes(kind)])
        for kind in RootKind
    ]
    return [OPEN_CHOICE, *groups]


class JudgeForm(forms.Form):
    swing = forms.UUIDField()
    sign = forms.ChoiceField(choices=SignKey.choices)
    verdict = forms.ChoiceField(choices=Verdict.choices)
    at_s = forms.FloatField(required=False, min_value=0, max_value=120)


class CorrectForm(forms.Form):
    swing = forms.UUIDField()
    event = forms.ChoiceField(choices=SwingEvent.choices)
    t_s = forms.FloatField(min_value=0, max_value=120)


class VoiceForm(forms.Form):
    recording = forms.FileField(
        error_messages={"required": "Choose a sound file or record one.", "empty": "The recording is empty."}
    )
    swing = forms.UUIDField(required=False)
    at_us = forms.IntegerField(required=False, min_value=0, max_value=61_000_000)
    caption = forms.CharField(required=False, max_length=8000)
