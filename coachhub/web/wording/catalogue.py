"""The catalogues of the other languages: brought up to date, checked, compiled; without tools from outside."""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from coachhub.common.wording import CHOICE
from coachhub.web.wording.collect import Message

GAPS = re.compile(r"\{[A-Za-z_]\w*\}|%\(\w+\)[sd]|%[sd%]|</?\w+>")


def place_of(root: Path, code: str) -> Path:
    return root / "coachhub" / "locale" / code / "LC_MESSAGES" / "django.po"


def read(path: Path, code: str) -> Catalog:
    if not path.exists():
        return Catalog(locale=code, fuzzy=False)
    with path.open("rb") as file:
        return read_po(file, locale=code)


def renewed(old: Catalog, messages: list[Message], code: str) -> Catalog:
    """The messages of now with the translations that are there; what nobody says any more is left out."""
    new = Catalog(locale=code, project="coachhub", fuzzy=False, creation_date=old.creation_date)
    new.revision_date = old.revision_date
    for message in sorted(messages, key=lambda one: (one.where, one.key)):
        kept = old.get(message.key)
        string: Any = kept.string if kept is not None else ""
        if message.plural and not isinstance(string, tuple):
            string = (string, "")
        key = (message.key, message.plural) if message.plural else message.key
        new.add(key, string=string, locations=[(message.where, 0)])
    return new


def write(path: Path, catalogue: Catalog) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        write_po(file, catalogue, width=120, omit_header=False, include_lineno=False)
    path.with_suffix(".mo").write_bytes(compiled(catalogue))


def compiled(catalogue: Catalog) -> bytes:
    out = BytesIO()
    write_mo(out, catalogue)
    return out.getvalue()


def missing(catalogue: Catalog) -> list[str]:
    return [_key(one) for one in catalogue if _key(one) and not all(_strings(one))]


def mismatched(catalogue: Catalog) -> Iterator[tuple[str, str]]:
    """Translations whose gaps or elements are not those of the message."""
    for one in catalogue:
        for string in _strings(one):
            if _key(one) and string and gaps_of(string) != gaps_of(_key(one)):
                yield _key(one), string


def gaps_of(text: str) -> list[str]:
    """A gap written as a choice counts by its name."""
    return sorted(GAPS.findall(CHOICE.sub(r"{\g<name>}", text)))


def take(catalogue: Catalog, said: dict[str, Any]) -> list[str]:
    """Put translations in; a list holds the singular and the plural. Gives the keys that the catalogue lacks."""
    unknown = []
    for key, string in said.items():
        message = catalogue.get(key)
        if message is None:
            unknown.append(key)
        elif isinstance(message.id, tuple | list):
            message.string = tuple(string) if isinstance(string, list) else (string, string)
        else:
            message.string = string
    return unknown


def _key(message: Any) -> str:
    return str(message.id[0] if isinstance(message.id, tuple | list) else message.id)


def _strings(message: Any) -> tuple[str, ...]:
    return tuple(message.string) if isinstance(message.string, tuple | list) else (message.string,)
