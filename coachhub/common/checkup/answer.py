from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum


class State(StrEnum):
    OK = "ok"
    MISSING = "missing"  # something doesn't work until it is mended
    OFF = "off"  # left out by choice or not needed here


@dataclass(frozen=True)
class Answer:
    name: str
    state: State
    found: str
    mend: str = ""


Check = Callable[[], Answer]


def ok(name: str, found: str) -> Answer:
    return Answer(name, State.OK, found)


def missing(name: str, found: str, mend: str) -> Answer:
    return Answer(name, State.MISSING, found, mend)


def off(name: str, found: str, mend: str) -> Answer:
    return Answer(name, State.OFF, found, mend)
