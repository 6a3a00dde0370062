from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms

from coachhub.accounts.enums import Hand
from coachhub.camps.models import Camp
from coachhub.videos.domain.references import About
from coachhub.videos.enums import ClubClass, ReferenceKind, View
from coachhub.videos.models import Reference

FIELDS = ("title", "kind", "view", "handedness", "club_class", "rights", "note", "is_shared")
NEEDED = {"required": "Choose one."}


class ReferenceForm(forms.Form):
    camp = forms.ChoiceField(label="Camp", error_messages=NEEDED)
    title = forms.CharField(
        label="Title",
        max_length=80,
        error_messages={"required": "Give it a title by which you find it again."},
    )
    kind = forms.ChoiceField(label="What it shows", choices=ReferenceKind.choices, error_messages=NEEDED)
    view = forms.ChoiceField(label="Filmed from where?", choices=View.choices, error_messages=NEEDED)
    handedness = forms.ChoiceField(label="Plays", choices=Hand.choices, error_messages=NEEDED)
    club_class = forms.ChoiceField(
        label="Which kind of club?", choices=[("", "no club"), *ClubClass.choices], required=False
    )
    rights = forms.CharField(
        label="Who is in the picture, and who agreed?",
        max_length=300,
        help_text="For example: myself; or a player who agreed in writing that this camp's coaches and students "
        "see it.",
        widget=forms.Textarea(attrs={"rows": 2, "maxlength": 300}),
        error_messages={"required": "Say who is in the picture and that they agreed to its use here."},
    )
    note = forms.CharField(label="What to look at", max_length=300, required=False)
    is_shared = forms.BooleanField(label="The camp's other coaches may use it", required=False)

    def __init__(self, *args: Any, camps: Iterable[Camp], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["camp"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(str(camp.public_id), camp.name) for camp in camps]

    def about(self) -> About:
        return About(**{name: self.cleaned_data[name] for name in FIELDS})


def values_of(reference: Reference) -> dict[str, Any]:
    return {"camp": str(reference.camp.public_id)} | {name: getattr(reference, name) for name in FIELDS}
