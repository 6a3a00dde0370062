"""The first and the latest day's swings in the player, side by side, held together by their events."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.accounts.models import User
from coachhub.common.domain.sights import note_sight
from coachhub.feedback.domain.comparisons import map_data
from coachhub.feedback.enums import Layout, Lock
from coachhub.progress.domain.first_latest import Pair, Side
from coachhub.progress.words import day_words
from coachhub.web.player import PlayerSwing, hand_of, pinned_swing
from coachhub.web.progress.labels import kind_words
from coachhub.web.progress.pairs import pairs_of
from coachhub.web.progress.reading import reading_of
from coachhub.web.reports.doors import student_place
from coachhub.web.who import person_of


@require_safe
@login_required
def beside(request: HttpRequest, public_id: UUID, key: str) -> HttpResponse:
    place, reader, now = student_place(request, public_id), person_of(request), timezone.now()
    reading = reading_of(place, reader)
    # The numbers stand on the page that leads here, from means of days; two single swings are no ground for any.
    pair = next((one for one in pairs_of(reading, set()) if one.key == key), None)
    if pair is None:
        raise Http404("no such pair")
    if not reading.is_own:
        note_sight(place, by=reader, now=now, scope=place.camp.public_id)
    context = {
        "place": place,
        "reading": reading,
        "pair": pair,
        "title": kind_words(pair.club_class, pair.view),
        "replay": _replay(pair, place.user_id, reader),
    }
    return render(request, "progress/beside.html", context)


def _replay(pair: Pair, student_id: int, reader: User) -> dict[str, Any]:
    hand = hand_of(student_id)
    first, latest = (_swing(side, reader, hand) for side in (pair.first, pair.latest))
    kept = {
        "uid": "first-latest",
        "first": first,
        "second": latest,
        "words": latest["label"],
        "time_map": map_data(pair.first.readout, pair.latest.readout),
        "lock": Lock.EVENTS,
        "offset_us": 0,
        "layout": Layout.BESIDE,
        "opacity": 50,
        "is_mirrored": False,
        "at_us": _start_us(first),
    }
    told = {"id": kept["uid"], "words": kept["words"], "note": first["label"], "data": kept, "numbers": None}
    return {
        "opens": kept["uid"],
        "player": {"replay": True, "swings": [first, latest], "marks": [], "moments": []},
        "moments": [],
        "marks": [],
        "voice": [],
        "kept": [told],
        "kept_data": [kept],
    }


def _swing(side: Side, reader: User, hand: str) -> PlayerSwing:
    label = day_words(side.day)
    return pinned_swing(side.readout.swing, side.readout, reader, hand=hand, label=label)


def _start_us(swing: PlayerSwing) -> int:
    """The top, where much of a change can be seen; without it the beginning."""
    top = next((event["t_us"] for event in swing["events"] if event["name"] == "top"), None)
    return swing["start_us"] if top is None else top
