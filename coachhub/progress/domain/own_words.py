"""A person's rows for reading: what ``data.json`` holds, without what only programs need, in words and in order."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any

from analysis.causes import cause_map
from coachhub.swings.enums import SignKey

# For programs alone: they lead from one row to another, or check a file.
LEFT_OUT = frozenset({"public_id", "uid", "thing_id", "scope_id", "sha256", "run", "path", "about", "token"})
# What tells one row from the next, the first that it has.
DATES = ("range_day", "on_day", "published_at", "sent_at", "at", "created_at")
LONG = 400
POINTER = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")


@dataclass(frozen=True)
class Line:
    name: str
    words: str
    # Long and nested values: as they are, to be opened.
    nested: str = ""


@dataclass(frozen=True)
class Row:
    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Section:
    title: str
    anchor: str
    rows: tuple[Row, ...]


def in_words(data: Mapping[str, list[dict[str, Any]]]) -> list[Section]:
    return [
        Section(title, f"part-{number}", tuple(_row(title, place, row) for place, row in enumerate(rows, 1)))
        for number, (title, rows) in enumerate(data.items(), start=1)
    ]


def _row(title: str, place: int, row: dict[str, Any]) -> Row:
    when = next((row[name] for name in DATES if row.get(name)), None)
    said = f"{place}, {said_of(when)}" if when else str(place)
    return Row(f"{title}, {said}", tuple(_lines(row)))


def _lines(row: dict[str, Any]) -> Iterator[Line]:
    """Whatever is empty says nothing, and what only points to another row neither."""
    for name, value in row.items():
        if name in LEFT_OUT or value in (None, "", [], {}) or POINTER.fullmatch(str(value)):
            continue
        label = name.removesuffix("_us").replace("_", " ").capitalize()
        if _is_nested(value):
            yield Line(label, "", json.dumps(value, ensure_ascii=False, indent=1, default=str))
        else:
            yield Line(label, said_of(value))


def _is_nested(value: Any) -> bool:
    if isinstance(value, dict):
        return any(isinstance(each, dict | list) for each in value.values()) or len(str(value)) > LONG
    if isinstance(value, list):
        return any(isinstance(each, list) for each in value) or len(str(value)) > 3 * LONG
    return False


def said_of(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "; ".join(said_of(each) for each in value)
    if isinstance(value, dict):
        return ", ".join(f"{name.replace('_', ' ')}: {said_of(each)}" for name, each in value.items())
    return _day(value) or _keys().get(value, value) if isinstance(value, str) else str(value)


def _day(text: str) -> str:
    """A day or a moment as people write it; nothing for other texts."""
    if len(text) == len("2026-06-09") and text[4:5] == "-":
        try:
            return f"{date.fromisoformat(text):%d %B %Y}".lstrip("0")
        except ValueError:
            return ""
    if text[10:11] == "T" and text[4:5] == "-":
        try:
            at = datetime.fromisoformat(text)
        except ValueError:
            return ""
        return f"{at:%d %B %Y, %H:%M} UTC".lstrip("0")
    return ""


@cache
def _keys() -> dict[str, str]:
    """The machine's short names of causes and signs."""
    signs = {str(value): str(label) for value, label in SignKey.choices}
    return signs | {node.key: node.label for node in cause_map().nodes.values()}
