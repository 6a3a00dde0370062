"""Lengths in yards and inches, against their definition (international yard: 0.9144 m, inch: 25.4 mm, 1959)."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import translation

from analysis.quality import SENTENCES
from coachhub.accounts.enums import Units
from coachhub.common.lengths import read_in_yards, say_lengths
from coachhub.common.wording import say
from tests import factories

pytestmark = [pytest.mark.unit]
YARD_MM = 914.4


@pytest.mark.parametrize("metres", range(1, 60))
def test_yards_are_the_nearest_that_people_say(metres: int) -> None:
    with read_in_yards(True):
        said = say_lengths(f"{metres} m")
    number, unit = said.split()
    yards = float(number.removesuffix("½") or 0) + 0.5 * number.endswith("½")
    exact = metres * 1000 / YARD_MM
    assert unit == ("yard" if number == "1" else "yards")
    assert abs(yards - exact) <= (0.25 if exact < 20 else 0.5) + 1e-9


@pytest.mark.parametrize(
    ("metric", "said"),
    [
        ("three to five metres away", "3½ to 5½ yards away"),
        ("15 cm, a third of a stance", "6 inches, a third of a stance"),
        ("2.5 cm", "1 inch"),
        ("0.8 m/s is a speed", "0.8 m/s is a speed"),
        ("5 minutes, 3 more, 2 ms", "5 minutes, 3 more, 2 ms"),
    ],
)
def test_lengths_in_a_sentence(metric: str, said: str) -> None:
    assert say_lengths(metric) == metric
    with read_in_yards(True):
        assert say_lengths(metric) == said


def test_a_sentence_about_the_distance_follows_in_both_languages() -> None:
    sentence = next(one for one, _ in SENTENCES.values() if "three to five metres" in one)
    with read_in_yards(True):
        assert "3½ to 5½ yards" in say(sentence) and "metres" not in say(sentence)
        with translation.override("de"):
            assert "3½ bis 5½ Yards" in say(sentence)
    assert say(sentence) == sentence


@pytest.mark.django_db
def test_a_person_chooses_and_gets_them_back() -> None:
    person, client = factories.make_user(), Client()
    client.force_login(person)
    page = reverse("account:me")
    fields = {"name": person.name, "time_zone": "Europe/Oslo"}
    assert client.post(page, fields | {"units": "furlongs"}).status_code == 200
    person.refresh_from_db()
    assert person.units == Units.METRIC
    assert client.post(page, fields | {"units": "yards"}).status_code == 302
    person.refresh_from_db()
    assert person.units == Units.YARDS
    assert 'value="yards" selected' in client.get(page).content.decode()
