from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from analysis.signs.bands import Bands, limits, terms_by_name
from analysis.signs.rules import KEYS
from coachhub.camps.domain.bands import bands_of
from tests.cast import Cast, make_cast

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def cast(client: Client, db: None) -> Cast:
    cast = make_cast()
    client.force_login(cast.coach)
    return cast


def send(client: Client, cast: Cast, based_on: int = 0, **fields: str) -> str:
    looks = {f"{key}:look": "on" for key in KEYS}
    sent = {name: value for name, value in {**looks, **fields}.items() if value != "off"}
    url = reverse("organiser:bands", args=[cast.camp.public_id])
    return client.post(url, {"based_on": based_on, **sent}, follow=True).content.decode()


def test_every_shipped_band_is_shown_with_its_source_and_grade(client: Client, cast: Cast) -> None:
    page = client.get(reverse("organiser:bands", args=[cast.camp.public_id])).content.decode()
    for (_, _), term in terms_by_name().items():
        assert f"{term.source} ({term.grade})".replace("'", "&#x27;") in page
    assert "from −14, plain at −22" in page
    assert "Nobody yet: the shipped bands hold." in page


def test_one_end_alone_moves_the_band_and_the_history_says_so(client: Client, cast: Cast) -> None:
    page = send(
        client, cast, **{"sway:pelvis_shift_top:from": "-10", "slide:look": "off", "why": "first week"}
    )
    wanted = Bands({("sway", "pelvis_shift_top"): (-10.0, -22.0)}, frozenset({"slide"}))
    assert bands_of(cast.camp) == (1, wanted)
    assert "sway, mid-hip shift, address to top: from −10, plain at −22" in page
    assert "slide: not looked for" in page
    assert cast.coach.name in page
    assert "(first week)" in page
    assert 'value="-10.0"' in page


def test_a_value_out_of_bounds_is_explained_and_nothing_is_kept(client: Client, cast: Cast) -> None:
    page = send(client, cast, **{"sway:pelvis_shift_top:from": "400"})
    low, high = limits(terms_by_name()["sway", "pelvis_shift_top"])
    assert f"Both ends must lie in {low:g}..{high:g}, got 400 and -22." in page
    assert "Nothing is saved yet" in page
    assert bands_of(cast.camp)[0] == 0


@pytest.mark.parametrize("text", ["nan", "inf", "wide"])
def test_what_is_no_number_is_refused(client: Client, cast: Cast, text: str) -> None:
    assert "Enter a number" in send(client, cast, **{"sway:pelvis_shift_top:to": text})
    assert bands_of(cast.camp)[0] == 0


def test_two_who_change_at_once_are_told(client: Client, cast: Cast) -> None:
    send(client, cast, **{"slide:look": "off"})
    page = send(client, cast, based_on=0, **{"sway:look": "off"})
    assert "changed elsewhere" in page
    assert bands_of(cast.camp) == (1, Bands(off=frozenset({"slide"})))


def test_back_to_the_shipped_bands(client: Client, cast: Cast) -> None:
    send(client, cast, **{"slide:look": "off"})
    page = client.post(reverse("organiser:bands-reset", args=[cast.camp.public_id]), follow=True)
    assert bands_of(cast.camp) == (2, Bands())
    assert "back to the shipped bands" in page.content.decode()


def test_a_closed_camp_shows_and_takes_nothing(client: Client, cast: Cast) -> None:
    cast.camp.state = "closed"
    cast.camp.save()
    url = reverse("organiser:bands", args=[cast.camp.public_id])
    assert "The camp is closed" in client.get(url).content.decode()
    assert client.post(url, {"based_on": 0}).status_code == 403
