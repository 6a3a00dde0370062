"""One form for all bands of a camp: two ends for each number behind a sign, and whether to look for it."""

from __future__ import annotations

from typing import Any

from django import forms

from analysis.signs.bands import Bands, checked, limits, terms_by_name
from analysis.signs.rules import KEYS, Grey, Term
from coachhub.camps.domain.bands import LONGEST_WHY

_NAMES = "{key}:{metric}:{end}"
ENDS = ("from", "to")


def end_name(key: str, metric: str, end: str) -> str:
    return _NAMES.format(key=key, metric=metric, end=end)


def look_name(key: str) -> str:
    return f"{key}:look"


class BandsForm(forms.Form):
    """An empty end means the shipped one."""

    based_on = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    why = forms.CharField(
        label="Why?",
        required=False,
        max_length=LONGEST_WHY,
        help_text="For the others who coach here, for example: beginners' week, wider.",
    )

    def __init__(self, *args: Any, number: int, bands: Bands, words: dict[str, str], **kwargs: Any) -> None:
        """``words``: what a sign or a number is called."""
        super().__init__(*args, **kwargs)
        self.initial["based_on"] = number
        for key in KEYS:
            self._add_look(key, bands, words[key])
        for (key, metric), term in terms_by_name().items():
            self._add_ends(key, term, bands.grey.get((key, metric)), f"{words[key]}, {words[metric]}")

    def _add_look(self, key: str, bands: Bands, label: str) -> None:
        self.fields[look_name(key)] = forms.BooleanField(
            label=f"Look for {label}", required=False, initial=key not in bands.off
        )

    def _add_ends(self, key: str, term: Term, own: Grey | None, label: str) -> None:
        low, high = limits(term)
        for place, end in enumerate(ENDS):
            widget = forms.NumberInput(
                attrs={
                    "min": f"{low:g}",
                    "max": f"{high:g}",
                    "step": "any",
                    "placeholder": f"{term.grey[place]:g}",
                }
            )
            self.fields[end_name(key, term.metric, end)] = forms.FloatField(
                label=f"{label}: {'begins at' if end == 'from' else 'plain at'}",
                required=False,
                initial=None if own is None else own[place],
                widget=widget,
            )

    def clean(self) -> dict[str, Any]:
        data = dict(super().clean() or {})
        self._grey: dict[tuple[str, str], Grey] = {}
        for (key, metric), term in terms_by_name().items():
            names = [end_name(key, metric, end) for end in ENDS]
            if any(name in self.errors for name in names):
                continue
            given = [data.get(name) for name in names]
            zone = tuple(
                shipped if end is None else end for end, shipped in zip(given, term.grey, strict=True)
            )
            self._take(key, term, (zone[0], zone[1]), names[0])
        return data

    def _take(self, key: str, term: Term, zone: Grey, field: str) -> None:
        if zone == term.grey:
            return
        try:
            self._grey[key, term.metric] = checked(term, zone)
        except ValueError as error:
            self.add_error(field, f"{str(error).partition(': ')[2].capitalize()}.")

    def bands(self) -> Bands:
        off = frozenset(key for key in KEYS if not self.cleaned_data[look_name(key)])
        return Bands(self._grey, off)
