"""Read a list of people to invite as spreadsheets write it: any separator, with or without a heading, bad lines kept
apart with a sentence each."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from coachhub.accounts.domain.people import LONGEST_NAME
from coachhub.camps.domain.invitations import Invited
from coachhub.common.domain.errors import RuleBroken

MOST_LINES = 500
MOST_BYTES = 256 * 1024
SEPARATORS = ",;\t|"


@dataclass(frozen=True)
class BadLine:
    line: int
    text: str
    sentence: str


@dataclass
class PeopleList:
    people: list[Invited] = field(default_factory=list)
    bad: list[BadLine] = field(default_factory=list)
    # Addresses that need no invitation, with where they stand in the file.
    known: list[BadLine] = field(default_factory=list)


def read_people(raw: bytes, *, at_hand: Iterable[str] = ()) -> PeopleList:
    """``at_hand``: lower-case addresses that are in the camp or invited already."""
    if len(raw) > MOST_BYTES:
        raise RuleBroken(
            "too_big", f"The list is larger than {MOST_BYTES // 1024} kB. Leave only names and addresses."
        )
    found, known = PeopleList(), frozenset(at_hand)
    seen: dict[str, int] = {}
    for number, cells in _lines(_decoded(raw)):
        _take(found, number, cells, seen, known)
    if not (found.people or found.bad or found.known):
        raise RuleBroken("empty", "The list is empty. Write one person per line: address, name.")
    return found


def _take(
    found: PeopleList, number: int, cells: list[str], seen: dict[str, int], known: frozenset[str]
) -> None:
    text = ", ".join(cells)[:120]
    address = next((cell for cell in cells if "@" in cell), "").lower()
    problem = _problem(address, cells, seen)
    if problem:
        found.bad.append(BadLine(number, text, problem))
        return
    seen[address] = number
    if address in known:
        found.known.append(BadLine(number, text, "Is in the camp or has an open invitation."))
        return
    found.people.append(Invited(email=address, name=_name(cells)))


def _problem(address: str, cells: list[str], seen: dict[str, int]) -> str:
    if not address:
        return "No e-mail address in this line."
    try:
        validate_email(address)
    except ValidationError:
        return "This is not a complete e-mail address."
    if len(address) > 254:
        return "This e-mail address is too long."
    if address in seen:
        return f"The same address as in line {seen[address]}."
    if len(_name(cells)) > LONGEST_NAME:
        return f"The name is longer than {LONGEST_NAME} characters."
    return ""


def _name(cells: list[str]) -> str:
    return " ".join(" ".join(cell for cell in cells if cell and "@" not in cell).split())


def _decoded(raw: bytes) -> str:
    """UTF-8 with or without its mark, UTF-16 with its mark, else what older spreadsheets write."""
    encodings = ("utf-16",) if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252", "latin-1")
    for encoding in encodings:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        return "".join(char for char in text if char in "\r\n\t" or char.isprintable())
    raise RuleBroken("not_text", "This is not a text file. Save the list as CSV and choose that file.")


def _lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """Numbered lines that hold something, without a heading."""
    for number, line in enumerate(text.splitlines(), start=1):
        cells = [cell.strip() for cell in _split(line)]
        if not any(cells) or (number == 1 and _is_heading(cells)):
            continue
        if number > MOST_LINES:
            raise RuleBroken("too_long", f"The list has more than {MOST_LINES} lines. Send it in parts.")
        yield number, cells


def _split(line: str) -> list[str]:
    separator = max(SEPARATORS, key=line.count)
    # One line at a time: an unclosed quote spoils its own line only.
    try:
        return next(csv.reader(io.StringIO(line), delimiter=separator), [])
    except csv.Error:
        return [line]


def _is_heading(cells: list[str]) -> bool:
    words = [cell.lower() for cell in cells]
    if any("@" in word for word in words):
        return False
    return any("mail" in word or "addres" in word or "adres" in word for word in words)
