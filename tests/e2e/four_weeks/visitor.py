"""A person at a browser of their own: reads addresses off links, fills what is labelled, presses what is named.

Each kind of page is looked at once for each size: no serious finding of the accessibility rules; a phone is never
scrolled sideways, on any page.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlparse

from django.urls import Resolver404, resolve
from playwright.sync_api import Locator, Page, expect

from coachhub.accounts.models import User
from tests.e2e.axe import serious_findings

PASSWORD = "curlew-over-dunes-8"
# Work is done where it is asked for: a click may wait for a film to be covered, on a machine that has other work.
LONGEST_WAIT_MS = 150_000
SIGN_IN = "/account/sign-in/"

Named = str | re.Pattern[str]


@dataclass
class Journal:
    """What all visitors did, and which kinds of pages were looked at."""

    actions: int = 0
    pages: int = 0
    signed_in: int = 0
    kinds: set[tuple[str, int]] = field(default_factory=set)

    def is_new(self, kind: str, wide: int) -> bool:
        known = (kind, wide) in self.kinds
        self.kinds.add((kind, wide))
        return not known


@dataclass
class Visitor:
    name: str
    email: str
    page: Page
    journal: Journal

    @property
    def user(self) -> User:
        return User.objects.get(email=self.email)

    def visit(self, path: str) -> Page:
        self.page.goto(path)
        if urlparse(self.page.url).path == SIGN_IN:
            self.sign_in()
        self.looked()
        return self.page

    def sign_in(self) -> None:
        """By hand: on the first visit of a browser, and when the session of the last one is over."""
        self.looked()
        self.fill("E-mail address", self.email)
        self.fill("Password", PASSWORD)
        self.press("Sign in")
        expect(self.page.get_by_role("heading", level=1)).not_to_have_text("Sign in")
        self.journal.signed_in += 1

    def press(self, name: Named, *, within: Locator | None = None, exact: bool = True) -> None:
        self._click((within or self.page).get_by_role("button", name=name, exact=exact).first)

    def follow(self, name: Named, *, within: Locator | None = None, exact: bool = True) -> None:
        self._click((within or self.page).get_by_role("link", name=name, exact=exact).first)

    def unfold(self, name: Named, *, within: Locator | None = None) -> None:
        self._click((within or self.page).get_by_text(name, exact=True).first)

    def fill(self, label: Named, words: str, *, within: Locator | None = None) -> None:
        (within or self.page).get_by_label(label).first.fill(words)
        self.journal.actions += 1

    def check(self, label: str, *, group: Named = "", within: Locator | None = None) -> None:
        place = within or self.page
        place = place.get_by_role("group", name=group) if group else place
        place.get_by_label(label, exact=True).first.check()
        self.journal.actions += 1

    def choose(self, label: Named, option: str, *, within: Locator | None = None) -> None:
        (within or self.page).get_by_label(label).first.select_option(option)
        self.journal.actions += 1

    def reads(self, *sentences: Named) -> None:
        for words in sentences:
            expect(self.page.get_by_role("main")).to_contain_text(words)

    def reads_nothing_of(self, *sentences: Named) -> None:
        for words in sentences:
            expect(self.page.get_by_role("main")).not_to_contain_text(words)

    def looked(self) -> None:
        """At the page that is there now."""
        self.journal.pages += 1
        wide = self._width()
        over = self.page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert over <= 0, f"{self.page.url} is {over} px wider than {wide}"
        kind = _kind(self.page.url)
        if self.journal.is_new(kind, wide):
            assert serious_findings(self.page) == [], (kind, wide)

    def _click(self, thing: Locator) -> None:
        before = self.page.url
        thing.click()
        self.journal.actions += 1
        self.page.wait_for_load_state()
        if self.page.url != before:
            self.looked()

    def _width(self) -> int:
        size: Any = self.page.viewport_size
        return int(size["width"])


def _kind(url: str) -> str:
    try:
        return resolve(urlparse(url).path).view_name
    except Resolver404:
        return urlparse(url).path
