"""From where on a camp speaks of a sign: the camp's values beside the shipped ones, and who set them when."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.forms import BoundField
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from analysis.metrics.registry import ALL
from analysis.signs.bands import SHIPPED, Bands, limits
from analysis.signs.rules import KEYS, RULES, SignRule, Term
from coachhub.camps.band_forms import ENDS, BandsForm, end_name, look_name
from coachhub.camps.domain.bands import bands_of, set_bands
from coachhub.camps.models import Camp, SignBands
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can, require
from coachhub.swings.enums import SignKey
from coachhub.videos.enums import View
from coachhub.web.organiser.access import camp_for, explain
from coachhub.web.who import person_of
from coachhub.web.words import metric_definition, metric_label, sign_limits, unit_label

MOST_HISTORY = 20
_UNITS = {spec.name: spec.unit for spec in ALL}
GRADES = (
    ("S, S2", "a source was read"),
    ("M", "from memory"),
    ("C", "common practice, no study"),
    ("K", "computed on rendered swings"),
)


@dataclass(frozen=True)
class Line:
    """One number behind a sign."""

    label: str
    definition: str
    unit: str
    shipped: str
    source: str
    allowed: str
    ends: tuple[BoundField, ...]
    changed: bool


@dataclass(frozen=True)
class Group:
    """One sign with the numbers that speak for it."""

    key: str
    label: str
    views: str
    limits: tuple[str, ...]
    look: BoundField
    lines: tuple[Line, ...]
    changed: bool


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def bands(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.see_bands")
    number, present = bands_of(camp)
    if request.method != "POST":
        return _page(request, camp, present, _form(number, present))
    require(person_of(request), "camps.set_bands", camp)
    form = _form(number, present, request.POST)
    if not form.is_valid():
        return _page(request, camp, present, form)
    return _set(request, camp, form.bands(), form.cleaned_data["based_on"], form.cleaned_data["why"])


@login_required
@require_POST
def reset(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.set_bands")
    return _set(request, camp, SHIPPED, bands_of(camp)[0], "back to the shipped bands")


def _set(request: HttpRequest, camp: Camp, wanted: Bands, based_on: int, why: str) -> HttpResponse:
    try:
        row = set_bands(camp, wanted, based_on=based_on, why=why, by=person_of(request), now=timezone.now())
    except RuleBroken as broken:
        explain(request, broken)
    else:
        said = "Nothing was changed." if row is None else "Saved. The camp's swings are judged by it now."
        messages.success(request, said)
    return redirect("organiser:bands", camp.public_id)


def _form(number: int, present: Bands, sent: Any = None) -> BandsForm:
    words = {key: str(SignKey(key).label) for key in KEYS}
    words |= {term.metric: metric_label(term.metric).lower() for rule in RULES for term in rule.terms}
    return BandsForm(sent, number=number, bands=present, words=words)


def _page(request: HttpRequest, camp: Camp, present: Bands, form: BandsForm) -> HttpResponse:
    person = person_of(request)
    rows = SignBands.objects.visible_to(person).filter(camp=camp).select_related("by")[:MOST_HISTORY]
    context = {
        "camp": camp,
        "form": form,
        "groups": [_group(key, form, present) for key in KEYS],
        "may_set": can(person, "camps.set_bands", camp),
        "runs_camp": can(person, "camps.edit", camp),
        "changed": present != SHIPPED,
        "history": [(row, changes_words(row)) for row in rows],
        "grades": GRADES,
    }
    return render(request, "organiser/bands.html", context)


def _group(key: str, form: BandsForm, present: Bands) -> Group:
    rules = [rule for rule in RULES if rule.key == key]
    lines = {term.metric: _line(key, term, form, present) for rule in rules for term in rule.terms}
    return Group(
        key,
        str(SignKey(key).label),
        " and ".join(str(View(rule.view).label) for rule in rules),
        tuple(_limit(rule, len(rules) > 1) for rule in rules),
        form[look_name(key)],
        tuple(lines.values()),
        present.touches(key),
    )


def _limit(rule: SignRule, named: bool) -> str:
    view = f"{str(View(rule.view).label).capitalize()}: " if named else ""
    return view + sign_limits(rule.key, rule.view)


def _line(key: str, term: Term, form: BandsForm, present: Bands) -> Line:
    low, high = limits(term)
    return Line(
        metric_label(term.metric),
        metric_definition(term.metric),
        unit_label(_UNITS.get(term.metric, "")),
        zone_words(term.grey),
        f"{term.source} ({term.grade})",
        f"{_plain(low)} to {_plain(high)}",
        tuple(form[end_name(key, term.metric, end)] for end in ENDS),
        (key, term.metric) in present.grey,
    )


def zone_words(zone: tuple[float, float] | list[float]) -> str:
    """ "from 28, plain at 42"."""
    return f"from {_plain(zone[0])}, plain at {_plain(zone[1])}"


def _plain(number: float) -> str:
    return f"{number:g}".replace("-", "−")


def changes_words(row: SignBands) -> str:
    """What differs from the shipped bands, in one line."""
    said = []
    for key, change in row.changes.items():
        label = str(SignKey(key).label) if key in SignKey.values else key
        if change.get("off"):
            said.append(f"{label}: not looked for")
        for metric, zone in change.get("grey", {}).items():
            said.append(f"{label}, {metric_label(metric).lower()}: {zone_words(zone)}")
    return "; ".join(said) or "as shipped"
