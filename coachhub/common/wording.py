"""Sentences are written in English where they arise, and said in the reader's language where they are shown.

A sentence may have been put together, or stored, long before anybody knows who reads it: "Clip 2: it is too dark". So
the catalogue is asked twice: for the text as it stands, then for a pattern of it with named gaps ("Clip {number}:
{reason}"). What fills a gap is looked up itself: as a whole, or piece by piece where every piece is known ("iron,
face-on, 1 swing"). A text that is in no catalogue stays English.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache

from django.utils.translation import get_language, gettext
from django.utils.translation.trans_real import translation

from coachhub.common.days import DAY, say_days
from coachhub.common.lengths import say_lengths

SOURCE = "en"

GAP = re.compile(r"\{([A-Za-z_]\w*)\}")
# In a translation a gap may be a choice: {days2:Tag|Tage}, the first where the English ending of a single one is empty.
CHOICE = re.compile(r"\{(?P<name>[A-Za-z_]\w*)(?::(?P<one>[^{}|]*)\|(?P<many>[^{}|]*))?\}")
# A pattern that is nearly all gap would fit anything.
FEWEST_FIXED_LETTERS = 4
# One of few letters might fit by chance: its gaps hold what is known, or not many words.
SHORT, LONGEST_IN_SHORT = 10, 4
LONGEST = 1200
QUOTED = re.compile(r"“[^”]*”")
PIECE = re.compile(r"(?:“[^”]*”|[^,;:.]|[,;:.](?! ))+[,;:.]?|[,;:.]")
MOST_PIECES, MOST_AT_ONCE = 24, 6
MEASURED = re.compile(
    r"(?P<label>[^\d−±]*(?: \d+ )?[^\d−±]* )?(?P<value>[−+-]?\d+(?:\.\d+)?(?: ± \d+(?:\.\d+)?)?)(?P<unit> ?[%°].*| deg)"
)
STEP = re.compile(r" [→←] |(?:(?! [→←] ).)+")


@dataclass(frozen=True)
class Pattern:
    fits: re.Pattern[str]
    said: str
    is_short: bool = False
    # Its longest piece of fixed text: looked for first, since that is quick.
    fixed: str = ""


def language() -> str:
    return (get_language() or SOURCE).partition("-")[0]


def is_source() -> bool:
    return language() == SOURCE


def say(text: str) -> str:
    """``text`` in the active language, if the catalogue has it as a whole or as a pattern."""
    words = str(text)
    if not words.strip() or len(words) > LONGEST:
        return words
    return say_lengths(words if is_source() else _said(language(), words))


def say_whole(text: str) -> str:
    """Only as a whole: for the few places where people's own words may stand."""
    return text if is_source() or not text.strip() else _looked_up(text)


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
    said = _put(code, words)
    if said == words and words[0].isupper():
        said = _at_the_head(code, words) or words
    return say_days(said)


def _at_the_head(code: str, words: str) -> str | None:
    """With the capital of a line's first word, which the pattern lacks."""
    label = words[0].lower() + words[1:]
    for pattern in patterns(code):
        if not pattern.is_short and (filled := _fitted(code, pattern, label)) is not None:
            return filled[0].upper() + filled[1:]
    return None


def _put(code: str, words: str) -> str:
    whole = _looked_up(words)
    if whole != words:
        return whole
    measured = _measured(code, words)
    if measured is not None:
        return measured
    # A pattern of few letters comes last: a list that is known piece by piece might fit it by chance.
    for is_short in (False, True):
        for pattern in patterns(code):
            if pattern.is_short == is_short and (filled := _fitted(code, pattern, words)) is not None:
                return filled
        if not is_short and (said := _in_pieces(code, words)) is not None:
            return said
    return _in_pieces(code, words, may_be_own=True) or words


def _fitted(code: str, pattern: Pattern, words: str, *, is_piece: bool = False) -> str | None:
    found = pattern.fits.fullmatch(words) if pattern.fixed in words else None
    if found is None:
        return None
    values = found.groupdict()
    said = {name: _in_gap(code, value) for name, value in values.items()}
    longest = 0 if is_piece else LONGEST_IN_SHORT
    if pattern.is_short and any(
        len(value.split()) > longest and said[name] == value and not re.search(r"\d", value)
        for name, value in values.items()
    ):
        return None
    return fill(pattern.said, said)


def _in_gap(code: str, words: str) -> str:
    if not words:
        return ""
    whole = _looked_up(words)
    return whole if whole != words else _measured(code, words) or _in_pieces(code, words) or words


def _measured(code: str, words: str) -> str | None:
    """What was measured, the value, and a unit that the catalogue has: "hip sway 10 ± 5 % of stance"."""
    found = MEASURED.fullmatch(words)
    if found is None:
        return None
    label, value, unit = found["label"], found["value"].replace("-", "−"), found["unit"].strip()
    if unit == "deg":
        return f"{value}°" if not label else None
    said = [
        "" if not label else _piece(code, label.strip()),
        value,
        unit if not re.search(r"[^\W\d_]{2}", unit) else _piece(code, unit),
    ]
    if None in said:
        return None
    space = " " if found["unit"][:1] == " " else ""
    return f"{said[0]} {value}{space}{said[2]}".strip()


def _in_pieces(code: str, words: str, *, may_be_own: bool = False, is_free: bool = False) -> str | None:
    """All of a list, or of some sentences in a row; none of it where a piece is unknown. What is quoted stays.

    ``may_be_own``: what follows a known label and its colon may be people's own words, and a link of a chain too.
    """
    for between, joint in ((STEP, ""), (PIECE, " ")):
        pieces = [piece.strip() if joint else piece for piece in between.findall(words)]
        if (
            1 < len(pieces) <= MOST_PIECES
            and (said := _in_turn(code, pieces, joint, may_be_own, is_free or not joint)) is not None
        ):
            return said
    return _bracketed(code, words) or _both(code, words)


def _in_turn(code: str, pieces: list[str], joint: str, may_be_own: bool, starts_free: bool) -> str | None:
    """From left to right, as much at once as is known: a label may hold a comma itself."""

    @cache
    def rest(at: int, is_free: bool) -> tuple[str, ...] | None:
        if at == len(pieces):
            return ()
        for end in range(min(len(pieces), at + MOST_AT_ONCE), at, -1):
            said = (
                None
                if end - at == len(pieces)
                else _piece(code, joint.join(pieces[at:end]), may_be_own, not joint)
            )
            if said is not None:
                after = rest(end, is_free or (may_be_own and pieces[end - 1].endswith(":")))
                if after is not None:
                    return (said, *after)
        after = rest(at + 1, is_free) if is_free else None
        return None if after is None else (pieces[at], *after)

    found = rest(0, may_be_own and starts_free)
    return joint.join(found) if found is not None and list(found) != pieces else None


@lru_cache(maxsize=8192)
def _piece(code: str, words: str, may_be_own: bool = False, is_free: bool = False) -> str | None:
    """With its own punctuation, or with that of the list it stands in."""
    for key, end in ((words, ""), (words.rstrip(",;:."), words[len(words.rstrip(",;:.")) :])):
        if not re.search(r"[^\W\d_]{2}", DAY.sub("", QUOTED.sub("", key))):
            return words
        said = _looked_up(key)
        if said != key or _is_known(code, key):
            return said + end
        if (measured := _measured(code, key)) is not None:
            return measured + end
        for pattern in patterns(code):
            if (filled := _fitted(code, pattern, key, is_piece=True)) is not None:
                return filled + end
    if re.search(" [→←] |: ", words):
        return _in_pieces(code, words, may_be_own=may_be_own, is_free=is_free)
    return _bracketed(code, words) or _both(code, words)


def _is_known(code: str, words: str) -> bool:
    """The translation may be the same word."""
    catalogue = translation(code)._catalog  # type: ignore[attr-defined]
    return words in catalogue or words[0].swapcase() + words[1:] in catalogue


def _bracketed(code: str, words: str) -> str | None:
    """With what stands in brackets behind it: a grade, a number, a word."""
    found = re.fullmatch(r"(?P<before>.*\S) \((?P<inside>[^()]*)\)(?P<end>[,;:.]?)", words)
    before = _piece(code, found["before"]) if found else None
    if found is None or before is None:
        return None
    return f"{before} ({_looked_up(found['inside'])}){found['end']}"


def _both(code: str, words: str) -> str | None:
    """ "face-on and down-the-line"."""
    one, joint, other = words.partition(" and ")
    found = [_piece(code, one), _piece(code, other)] if joint else []
    return f" {_looked_up('and')} ".join(map(str, found)) if found and None not in found else None


def _looked_up(words: str) -> str:
    """As it stands; or, of a label put at the head of a line, without its capital; or with one, inside of a line."""
    whole = gettext(words)
    if whole != words or not words[0].isalpha():
        return whole
    other = words[0].swapcase() + words[1:]
    said = gettext(other)
    if said == other:
        return words
    return said if words[0].islower() else said[0].upper() + said[1:]


@lru_cache(maxsize=8)
def patterns(code: str) -> tuple[Pattern, ...]:
    """Of all entries with gaps, those with the most fixed text first: the closest fit wins."""
    catalogue = translation(code)._catalog  # type: ignore[attr-defined]
    entries = {key: said for key, said in catalogue.items() if isinstance(key, str) and GAP.search(key)}
    fixed = {key: len(re.sub(r"\W", "", GAP.sub("", key))) for key in entries}
    usable = sorted(
        (key for key in entries if fixed[key] >= FEWEST_FIXED_LETTERS), key=lambda key: -fixed[key]
    )
    return tuple(
        Pattern(as_regex(key), entries[key], fixed[key] < SHORT, max(GAP.sub("\n", key).split("\n"), key=len))
        for key in usable
        if entries[key]
    )


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
