from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms

from coachhub.accounts.enums import PainSite
from coachhub.feedback.domain.camp_drills import NEEDED, DrillWords
from coachhub.feedback.domain.library import shipped_names
from coachhub.feedback.library.figures import FIGURES
from coachhub.feedback.models import Drill
from coachhub.swings.enums import SignKey
from coachhub.videos.models import Reference

LINES = {"how": 3, "progression": 2, "stop_rule": 2}
FIELDS: tuple[tuple[str, str, str], ...] = (
    ("name", "Name", ""),
    ("how", "How it is done", ""),
    ("cue", "The cue", "One thing to do with the club, the ball or the ground, not with a part of the body."),
    ("club_and_speed", "Club and speed", "For example: 8-iron, half speed."),
    ("dose", "How much", "For example: 3 sets of 8."),
    ("per_week", "How often", "A number of days, for example: 3 times a week."),
    ("progression", "When it goes well, then", ""),
    ("video_check", "How to see on video that it works", ""),
    ("stop_rule", "When to stop", "Pain always means stop; say what else does."),
)
OPTIONAL = ("club_and_speed", "video_check")


def _field(name: str, label: str, help_text: str) -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": LINES[name]}) if name in LINES else forms.TextInput()
    limit = getattr(Drill._meta.get_field(name), "max_length", None) or 1000
    missing = NEEDED.get(name, "Say on how many days a week, for example 3 times a week.")
    return forms.CharField(
        label=label,
        help_text=help_text,
        max_length=limit,
        required=name not in OPTIONAL,
        widget=widget,
        error_messages={"required": missing},
    )


class DrillForm(forms.Form):
    sign = forms.ChoiceField(
        label="Against which sign?", choices=[("", "none"), *SignKey.choices], required=False
    )
    avoid_sites = forms.MultipleChoiceField(
        label="Not for whom it hurts here",
        choices=PainSite.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    figure = forms.ChoiceField(
        label="Drawing",
        required=False,
        # Each drawing is of one shipped drill.
        choices=[("", "none"), *((key, name) for key, name in shipped_names().items() if key in FIGURES)],
    )
    film = forms.ChoiceField(
        label="Film",
        required=False,
        help_text="A short demonstration of the reference library. Students who get the drill see it.",
    )

    field_order = [name for name, _, _ in FIELDS]

    def __init__(
        self, *args: Any, films: Iterable[Reference], drill: Drill | None = None, **kwargs: Any
    ) -> None:
        if drill is not None:
            names = [name for name, _, _ in FIELDS] + ["sign", "avoid_sites", "figure"]
            kwargs["initial"] = {name: getattr(drill, name) for name in names} | {
                "film": str(drill.film.public_id) if drill.film else ""
            }
        super().__init__(*args, **kwargs)
        for name, label, help_text in FIELDS:
            self.fields[name] = _field(name, label, help_text)
        self.order_fields(self.field_order)
        self._films = {str(film.public_id): film for film in films}
        field = self.fields["film"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "none"), *((key, film.title) for key, film in self._films.items())]

    def words(self) -> DrillWords:
        data = self.cleaned_data
        texts = {name: data[name] for name, _, _ in FIELDS}
        return DrillWords(
            **texts, sign=data["sign"], avoid_sites=tuple(data["avoid_sites"]), figure=data["figure"]
        )

    def film_chosen(self) -> Reference | None:
        return self._films.get(self.cleaned_data["film"])
