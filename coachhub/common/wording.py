"""Sentences are written in English where they arise, and said in the reader's language where they are shown.

A sentence may have been put together, or stored, long before anybody knows who reads it: "Clip 2: it is too dark". So
the catalogue is asked twice: for the text as it stands, then for a pattern of it with named gaps ("Clip {number}:
{reason}"). What fills a gap is looked up itself, as a whole only. A text that is in no catalogue stays English.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from django.utils.translation import get_language, gettext
from django.utils.translation.trans_real import translation

SOURCE = "en"
GAP = re.compile(r"\{([A-Za-z_]\w*)\}")
# In a translation a gap may be a choice: {days2:Tag|Tage}, the first where the English ending of a single one is empty.
CHOICE = re.compile(r"\{(?P<name>[A-Za-z_]\w*)(?::(?P<one>[^{}|]*)\|(?P<many>[^{}|]*))?\}")
# A pattern that is nearly all gap would fit anything.
FEWEST_FIXED_LETTERS = 4
LONGEST = 1200


@dataclass(frozen=True)
class Pattern:
    fits: re.Pattern[str]
    said: str


def language() -> str:
    return (get_language() or SOURCE).partition("-")[0]


def is_source() -> bool:
    return language() == SOURCE


def say(text: str) -> str:
    """``text`` in the active language, if the catalogue has it as a whole or as a pattern."""
    words = str(text)
    if is_source() or not words.strip() or len(words) > LONGEST:
        return words
    return _said(language(), words)


def say_whole(text: str) -> str:
    """Only as a whole: for the few places where people's own words may stand."""
    return text if is_source() or not text.strip() else gettext(text)


def fill(said: str, values: Mapping[str, str]) -> str:
    """Put values into the gaps; a gap without one stays as it is."""

    def filled(gap: re.Match[str]) -> str:
        value = values.get(gap["name"])
        return gap[0] if value is None else chosen(gap, value)

    return CHOICE.sub(filled, said)


def chosen(gap: re.Match[str], value: str) -> str:
    """What stands for a gap of a translation: its value, or one of the two words that it offers."""
    if gap["many"] is None:
        return value
    return gap["many"] if value else str(gap["one"])


@lru_cache(maxsize=8192)
def _said(code: str, words: str) -> str:
    whole = _looked_up(words)
    if whole != words:
        return whole
    for pattern in patterns(code):
        found = pattern.fits.fullmatch(words)
        if found:
            return fill(
                pattern.said,
                {name: _looked_up(value) if value else "" for name, value in found.groupdict().items()},
            )
    return words


def _looked_up(words: str) -> str:
    """As it stands; or, of a label put at the head of a line, without its capital."""
    whole = gettext(words)
    if whole != words or not words[0].isupper():
        return whole
    label = words[0].lower() + words[1:]
    said = gettext(label)
    return words if said == label else said[0].upper() + said[1:]


@lru_cache(maxsize=8)
def patterns(code: str) -> tuple[Pattern, ...]:
    """Of all entries with gaps, those with the most fixed text first: the closest fit wins."""
    catalogue = translation(code)._catalog  # type: ignore[attr-defined]
    entries = {key: said for key, said in catalogue.items() if isinstance(key, str) and GAP.search(key)}
    fixed = {key: len(re.sub(r"\W", "", GAP.sub("", key))) for key in entries}
    usable = sorted(
        (key for key in entries if fixed[key] >= FEWEST_FIXED_LETTERS), key=lambda key: -fixed[key]
    )
    return tuple(Pattern(as_regex(key), entries[key]) for key in usable if entries[key])


def as_regex(key: str) -> re.Pattern[str]:
    parts, seen = [], set()
    at = 0
    for gap in GAP.finditer(key):
        parts.append(re.escape(key[at : gap.start()]))
        name = gap[1]
        # Right behind a letter stands an ending: it may be empty.
        some = "*" if key[: gap.start()][-1:].isalpha() else "+"
        parts.append(f"(?P={name})" if name in seen else f"(?P<{name}>.{some}?)")
        seen.add(name)
        at = gap.end()
    parts.append(re.escape(key[at:]))
    return re.compile("".join(parts), re.DOTALL)
