"""Days and numbers in the reader's language, against the Unicode locale data (CLDR, as Babel brings it)."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from babel.dates import format_date, format_skeleton
from babel.numbers import format_decimal
from django.template import Context, Template
from django.utils import translation

from coachhub.common.days import local_format, say_days
from coachhub.common.wording import say

pytestmark = [pytest.mark.unit]
DAYS = [date(2026, month, day) for month, day in ((1, 1), (3, 31), (5, 9), (6, 10), (12, 24))]


def in_german(template: str, value: object) -> str:
    with translation.override("de"):
        return Template(template).render(Context({"at": value}))


@pytest.mark.parametrize("day", DAYS)
def test_a_day_in_full_is_written_as_the_locale_data_say(day: date) -> None:
    assert in_german('{{ at|date:"j F Y" }}', day) == format_date(day, "long", locale="de")
    assert in_german('{{ at|date:"l j F Y" }}', day) == format_date(day, "full", locale="de")
    assert in_german('{{ at|date:"j F" }}', day) == format_skeleton("MMMMd", day, locale="de")


@pytest.mark.parametrize("day", DAYS)
def test_a_day_in_a_sentence_of_the_site_is_written_alike(day: date) -> None:
    expected = format_skeleton("MMMMd", day, locale="de")
    with translation.override("de"):
        assert say_days(f"{day:%-d %B}: it") == f"{expected}: it"
        assert say_days(f"{day:%A %-d %B %Y}") == format_date(day, "full", locale="de")


def test_what_programs_read_and_english_stay_as_they_are() -> None:
    at = datetime(2026, 6, 9, 18, 30, tzinfo=UTC)
    assert in_german('{{ at|date:"c" }}', at) == at.isoformat()
    assert in_german('{{ at|date:"H:i" }}', at) == "18:30"
    with translation.override("en"):
        assert Template('{{ at|date:"D j M, H:i" }}').render(Context({"at": at})) == "Tue 9 Jun, 18:30"
        assert say("9 June: 2.5") == "9 June: 2.5"


@pytest.mark.parametrize(
    ("asked", "german"),
    [("D j M", "D j. M"), ("l j F, H:i", "l, j. F, H:i"), ("j M Y", "j. M Y"), ("F Y", "F Y"), ("c", "c")],
)
def test_only_day_and_month_change_their_form(asked: str, german: str) -> None:
    with translation.override("de"):
        assert local_format(asked) == german


@pytest.mark.parametrize("number", [2.5, -0.4, 12.25])
def test_a_decimal_gets_the_comma_of_the_locale_data(number: float) -> None:
    with translation.override("de"):
        assert say_days(f"to {number} deg") == f"to {format_decimal(number, locale='de')} deg"


@pytest.mark.parametrize("words", ["version 1.4.0", "at 10.30.", "clip.v2.5", "6 may", "part 2 Marched"])
def test_what_only_looks_like_one_stays(words: str) -> None:
    with translation.override("de"):
        assert say_days(words.replace("10.30.", "10:30.")) == words.replace("10.30.", "10:30.")
