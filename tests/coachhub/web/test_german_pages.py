"""Pages as a German reader gets them: nothing that the catalogue knows is left in English."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import translation

from coachhub.accounts.models import User
from coachhub.common import wording
from coachhub.web.wording import catalogue
from coachhub.web.wording.runs import SPOKEN_ATTRIBUTES
from tests.coachhub.web.routes import ROUTES, Row
from tests.coachhub.web.scene import Scene, make_scene

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

SILENT = ("script", "style", "pre", "textarea")
# Pages whose text is for programs, or is people's own.
FOR_PROGRAMS = ("api",)


class Read(HTMLParser):
    """What a page says: each piece of text, and what is read out of attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.said: list[str] = []
        self.language = ""
        self._open: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.said += [value for name, value in attrs if name in SPOKEN_ATTRIBUTES and value]
        if tag == "html":
            self.language = dict(attrs).get("lang") or ""
        if tag in SILENT:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self._open and self._open[-1] == tag:
            self._open.pop()

    def handle_data(self, data: str) -> None:
        if not self._open and data.strip():
            self.said.append(" ".join(data.split()))


@pytest.fixture(scope="module")
def sentences() -> dict[str, str]:
    """Whole sentences of the catalogue, long enough to be nobody's own words."""
    place = catalogue.place_of(settings.BASE_DIR, "de")
    keys = [str(one.id) for one in catalogue.read(place, "de") if isinstance(one.id, str)]
    with translation.override("de"):
        said = {
            key: translation.gettext(key) for key in keys if len(key) >= 20 and " " in key and "{" not in key
        }
    return {key: german for key, german in said.items() if german != key}


def still_english(text: list[str], sentences: dict[str, str], own: frozenset[str]) -> Iterator[str]:
    with translation.override("de"):
        for piece in text:
            if piece not in own and re.search(r"[A-Za-z]{3}", piece) and wording.say(piece) != piece:
                yield piece
    whole = " ".join(text)
    plain = {key for key in sentences if "<" not in key and "%" not in key}
    yield from (key for key in plain if key in whole)


def pages(scene: Scene) -> Iterator[tuple[str, Row, User | None]]:
    """Each page with somebody who may see it."""
    for name, row in sorted(ROUTES.items()):
        if row.get is None or name.startswith(FOR_PROGRAMS):
            continue
        allowed = [person for person, status in row.get.items() if status == 200]
        if allowed:
            person = scene.cast.person(allowed[0])
            yield name, row, person if isinstance(person, User) else None


def test_no_page_says_in_english_what_is_known_in_german(sentences: dict[str, str]) -> None:
    scene = make_scene()
    people = User.objects.values_list("name", "email")
    own = frozenset([*(word for person in people for word in person), *dict(settings.LANGUAGES).values()])
    left, seen = [], 0
    for name, row, person in pages(scene):
        with transaction.atomic():
            row.prepare(scene)
            client = Client(headers=row.headers(scene) | {"Accept-Language": "de"})
            if person is not None:
                client.force_login(person)
            answer = client.get(reverse(name, kwargs=row.kwargs(scene), query=row.query(scene)))
            if answer.headers.get("Content-Type", "").startswith("text/html"):
                page = Read(answer.content.decode())
                seen += 1
                assert page.language in ("de", ""), name
                left += [f"{name}: {piece}" for piece in still_english(page.said, sentences, own)]
            transaction.set_rollback(True)
    assert seen > 60

    assert left == []
