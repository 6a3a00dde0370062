"""Lengths in finished sentences as the reader measures them: metres, or yards and inches."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from django.utils.translation import ngettext

# The international yard and inch are exactly this long (agreement of 1959).
YARD_M, INCH_CM = 0.9144, 2.54
ENGLISH = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
GERMAN = ("ein", "zwei", "drei", "vier", "fünf", "sechs", "sieben", "acht", "neun", "zehn")
NUMBERS = {word: number for words in (ENGLISH, GERMAN) for number, word in enumerate(words, start=1)}
NUMBER = rf"\d+(?:[.,]\d+)?|{'|'.join(NUMBERS)}"
LENGTH = re.compile(
    rf"\b(?:(?P<least>{NUMBER})(?P<joint> to | bis |-|–))?(?P<most>{NUMBER}) "
    r"(?:(?P<metres>metres?|Metern?|m)|centimetres?|Zentimetern?|cm)\b(?![/²³])"
)
# From here on half a yard is no more than the reader can pace out.
WHOLE_FROM = 20.0

_in_yards: ContextVar[bool] = ContextVar("in_yards", default=False)


@contextmanager
def read_in_yards(wanted: bool) -> Iterator[None]:
    token = _in_yards.set(wanted)
    try:
        yield
    finally:
        _in_yards.reset(token)


def are_in_yards() -> bool:
    return _in_yards.get()


def say_lengths(text: str) -> str:
    """``text`` with its metric lengths in yards or inches, if the reader wants them so."""
    return LENGTH.sub(_converted, text) if are_in_yards() else text


def _converted(found: re.Match[str]) -> str:
    one = YARD_M if found["metres"] else INCH_CM
    most = _rounded(found["most"], one)
    unit = _yards(most) if found["metres"] else _inches(most)
    least = f"{_rounded(found['least'], one)}{found['joint']}" if found["least"] else ""
    return f"{least}{most} {unit}"


def _yards(number: str) -> str:
    return ngettext("yard", "yards", 1 if number in ("1", "½") else 2)


def _inches(number: str) -> str:
    return ngettext("inch", "inches", 1 if number in ("1", "½") else 2)


def _rounded(number: str, one: float) -> str:
    """To halves, as people say them; from 20 on to wholes."""
    length = float(NUMBERS.get(number) or number.replace(",", ".")) / one
    halves = round(length) * 2 if length >= WHOLE_FROM else max(1, round(length * 2))
    whole, half = divmod(halves, 2)
    return f"{whole or ''}{'½' if half else ''}"
