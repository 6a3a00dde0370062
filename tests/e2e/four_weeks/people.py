"""The people of the story. Each comes in when the story has them, and keeps one browser for the four weeks."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from tests.e2e.conftest import DESKTOP, PHONE, OpenPage
from tests.e2e.four_weeks.clock import CampClock
from tests.e2e.four_weeks.visitor import LONGEST_WAIT_MS, SIGN_IN, Journal, Visitor

NAMES = {
    "runa": "Runa Valdez",  # organiser
    "otto": "Otto Lindqvist",  # coach
    "marisol": "Marisol Kente",  # coach
    "hedda": "Hedda Corvin",  # student
    "jory": "Jory Pell",  # student, 13
    "wren": "Wren Pell",  # guardian of Jory
    "basil": "Basil Orme",  # student, comes late
}


@dataclass
class Camp:
    open_page: OpenPage
    clock: CampClock
    journal: Journal = field(default_factory=Journal)
    people: dict[str, Visitor] = field(default_factory=dict)

    def __getitem__(self, role: str) -> Visitor:
        return self.people[role]

    def name(self, role: str) -> str:
        return NAMES[role]

    def address(self, role: str) -> str:
        return self.name(role).lower().replace(" ", ".") + "@example.org"

    def at_a_desk(self, role: str) -> Visitor:
        return self._in_front(role, size=DESKTOP)

    def on_the_phone(self, role: str) -> Visitor:
        return self._in_front(role, size=PHONE, has_touch=True)

    def _in_front(self, role: str, **screen: Any) -> Visitor:
        page = self.open_page(None, SIGN_IN, **screen)
        page.set_default_timeout(LONGEST_WAIT_MS)
        self.people[role] = Visitor(self.name(role), self.address(role), page, self.journal)
        self.people[role].looked()
        return self.people[role]
