"""Finds what people read in a page's source: runs of text between the elements that stand for themselves.

Everything that isn't text is a mark: a character of a private range that stands for one node of the template. A run
may hold marks (they become named gaps) and inline elements (they keep their name and lose their attributes), so that
a translator sees the whole sentence: ``Read <a>the answer</a> by {due_at}.``
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from coachhub.common.wording import CHOICE, chosen

MARK = 0xE000
MARKS = "\ue000-\uf8ff"
TAG = re.compile(
    r"<!--.*?-->|<!doctype[^>]*>|</?[a-zA-Z](?:[^<>\"']|\"[^\"]*\"|'[^']*')*>", re.DOTALL | re.IGNORECASE
)
INLINE = frozenset(
    ("a", "abbr", "b", "code", "em", "i", "kbd", "small", "span", "strong", "sub", "sup", "time", "q", "cite")
)
SILENT = frozenset(("script", "style", "pre", "textarea", "svg", "template"))
SPOKEN_ATTRIBUTES = (
    "aria-label",
    "aria-description",
    "title",
    "placeholder",
    "alt",
    "data-label",
    "data-confirm",
    "label",
)
ATTRIBUTE = re.compile(rf"\s({'|'.join(SPOKEN_ATTRIBUTES)})=\"([^\"]*)\"")
LETTER = re.compile(r"[^\W\d_]")


@dataclass(frozen=True)
class Run:
    """One thing to translate. ``tags``: where the inline elements stand in the page, in their order."""

    start: int
    end: int
    key: str
    gaps: dict[str, int] = field(default_factory=dict)
    tags: dict[str, list[tuple[int, int]]] = field(default_factory=dict)


def find_runs(source: str, names: dict[int, str], *, plain: bool = False, in_tag: bool = False) -> list[Run]:
    """Runs of ``source`` from left to right; ``names`` gives each mark a name.

    A run may lie inside another one: what an element in a sentence is called when it is read out.
    ``plain``: no elements, line by line. ``in_tag``: the source stands inside an element's brackets, where only
    attributes that are read out are text.
    """
    if in_tag:
        spans = _attributes(f" {source}", -1)
    else:
        spans = _plain_spans(source) if plain else _spans(source)
    runs = [run for start, end in spans if (run := _run(source, start, end, names)) is not None]
    return sorted(runs, key=lambda run: run.start)


def marks_in_tags(source: str) -> frozenset[int]:
    """Marks that stand inside an element's own brackets."""
    return frozenset(ord(mark) for tag in TAG.finditer(source) for mark in re.findall(f"[{MARKS}]", tag[0]))


def marks_for_programs(source: str, *, in_tag: bool = False) -> frozenset[int]:
    """Of these, the ones outside of attributes that are read out: what they print is no text."""
    tags = [f" {source}"] if in_tag else [tag[0] for tag in TAG.finditer(source)]
    silent = [ATTRIBUTE.sub("", tag) for tag in tags]
    return frozenset(ord(mark) for tag in silent for mark in re.findall(f"[{MARKS}]", tag))


def _plain_spans(source: str) -> Iterator[tuple[int, int]]:
    for line in re.finditer(r"[^\n]+", source):
        yield line.span()


def _spans(source: str) -> Iterator[tuple[int, int]]:
    """Text between block elements, and the attributes that are read out."""
    start, silent = 0, ""
    for tag in TAG.finditer(source):
        name = _name(tag[0])
        if silent:
            if tag[0].startswith(f"</{silent}"):
                silent, start = "", tag.end()
            continue
        yield from _attributes(tag[0], tag.start())
        if name in INLINE:
            continue
        yield start, tag.start()
        start = tag.end()
        if name in SILENT and not tag[0].startswith("</") and not tag[0].endswith("/>"):
            silent = name
    if not silent:
        yield start, len(source)


def _attributes(tag: str, start: int) -> Iterator[tuple[int, int]]:
    for found in ATTRIBUTE.finditer(tag):
        yield start + found.start(2), start + found.end(2)


def _name(tag: str) -> str:
    found = re.match(r"</?([a-zA-Z][\w-]*)", tag)
    return found[1].lower() if found else ""


def _run(source: str, start: int, end: int, names: dict[int, str]) -> Run | None:
    start, end = _trimmed(source, start, end)
    text = source[start:end]
    bare = re.sub(f"[{MARKS}]", "", TAG.sub("", text))
    if not LETTER.search(re.sub(r"&\w+;", "", bare)):
        return None
    gaps: dict[str, int] = {}
    tags: dict[str, list[tuple[int, int]]] = {}
    key = TAG.sub(lambda tag: _short(tag, start, tags), text)
    key = re.sub(f"[{MARKS}]", lambda mark: _gap(ord(mark[0]), names, gaps), key)
    return Run(start, end, " ".join(key.split()), gaps, tags)


def _trimmed(source: str, start: int, end: int) -> tuple[int, int]:
    """Without the space around, and without elements at the ends that hold nothing of the sentence."""
    while start < end and source[start].isspace():
        start += 1
    while start < end and source[end - 1].isspace():
        end -= 1
    whole = re.fullmatch(r"(<(\w+)\b[^<>]*>)(.*)(</\2>)", source[start:end], re.DOTALL)
    if whole and f"<{whole[2]}" not in whole[3]:
        return _trimmed(source, start + len(whole[1]), end - len(whole[4]))
    return start, end


def _short(found: re.Match[str], start: int, tags: dict[str, list[tuple[int, int]]]) -> str:
    """``<a href=...>`` as ``<a>``; where it stands is kept aside, by name and order."""
    tag = found[0]
    if tag.startswith(("<!", "</")):
        return "" if tag.startswith("<!") else f"</{_name(tag)}>"
    tags.setdefault(_name(tag), []).append((start + found.start(), start + found.end()))
    return f"<{_name(tag)}>"


def _gap(mark: int, names: dict[int, str], gaps: dict[str, int]) -> str:
    base = names.get(mark, "x")
    name, number = base, 1
    while gaps.get(name, mark) != mark:
        number += 1
        name = f"{base}{number}"
    gaps[name] = mark
    return "{" + name + "}"


def say_run(run: Run, said: str, printed: Mapping[int, str], element: Callable[[int, int], str]) -> str:
    """The translation with the page's own elements and marks in their places; ``element`` gives the former.

    ``{days2:Tag|Tage}`` is a choice: the first where the gap prints nothing, as the English ending of a single one.
    """
    used = {name: iter(found) for name, found in run.tags.items()}

    def whole(tag: re.Match[str]) -> str:
        place = next(used.get(tag[1], iter(())), None)
        return tag[0] if place is None else element(*place)

    def filled(gap: re.Match[str]) -> str:
        mark = run.gaps.get(gap["name"])
        if mark is None:
            return gap[0]
        return chosen(gap, printed.get(mark, "").strip()) if gap["many"] is not None else chr(mark)

    return re.sub(r"<(\w+)>", whole, CHOICE.sub(filled, said))
