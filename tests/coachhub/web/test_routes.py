"""The permission table: every route × every person of the cast, and no route outside the table."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.apps import apps
from django.contrib.sessions.models import Session
from django.db import connection, transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.cast import NAMES
from tests.coachhub.web import scene as scenes
from tests.coachhub.web.routes import ROUTES, Row, Statuses
from tests.coachhub.web.scene import Scene, make_scene

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

UNSAFE = ("post", "patch", "delete")
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), microphone=(self), geolocation=(), payment=(), usb=()",
}
INLINE = re.compile(r"<script(?![^>]*(\bsrc=|type=\"application/json\"))|<style|\son\w+=\"|\sstyle=\"")
REFUSED = frozenset({302, 401, 403, 404, 405, 410})


def _names(patterns: list[Any], prefix: str = "") -> Iterator[str]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            inside = f"{prefix}{pattern.namespace}:" if pattern.namespace else prefix
            yield from _names(pattern.url_patterns, inside)
        elif isinstance(pattern, URLPattern):
            yield f"{prefix}{pattern.name}"


def _digest() -> str:
    """All rows of all tables but the sign-ins themselves."""
    total = hashlib.sha256()
    for model in apps.get_models():
        if model is Session:
            continue
        told = [field.attname for field in model._meta.concrete_fields if field.attname != "last_login"]
        for row in model._default_manager.order_by("pk").values_list(*told):
            total.update(repr(row).encode())
    return total.hexdigest()


def _written() -> int:
    """How many rows this connection has written so far: SQLite counts them, undone ones too."""
    counted: int = connection.connection.total_changes
    return counted


def _private_words(scene: Scene) -> tuple[str, ...]:
    cast = scene.cast
    people = (cast.student, cast.cohort_mate, cast.coach, cast.organiser)
    own = (scenes.SECRET_NOTE, scenes.SECRET_ANSWER, scenes.SECRET_MESSAGE, cast.camp.name)
    return own + tuple(word for person in people for word in (person.name, person.email))


def _body(response: HttpResponse) -> str:
    if response.streaming:
        return b"".join(response.streaming_content).decode(errors="replace")  # type: ignore[attr-defined]
    return response.content.decode(errors="replace")


def _client(scene: Scene, row: Row, person: str) -> Client:
    client = Client(headers=row.headers(scene))
    user = scene.cast.person(person)
    if user.is_authenticated:
        client.force_login(user)
    return client


def _send(client: Client, scene: Scene, row: Row, name: str, method: str) -> HttpResponse:
    address = reverse(name, kwargs=row.kwargs(scene), query=row.query(scene))
    if method not in UNSAFE:
        return getattr(client, method)(address)
    data: Any = row.data(scene)
    if not row.content_type:
        return (
            getattr(client, method)(address, data) if method == "post" else getattr(client, method)(address)
        )
    if row.content_type == "application/json":
        data = json.dumps(data)
    return getattr(client, method)(address, data, content_type=row.content_type)


def _check_refusal(scene: Scene, person: str, response: HttpResponse, is_as_before: bool, what: str) -> None:
    assert is_as_before, f"{what}: refused, and yet something changed"
    user = scene.cast.person(person)
    own = {getattr(user, "name", ""), getattr(user, "email", "")}
    body = _body(response)
    leaked = [word for word in _private_words(scene) if word in body and word not in own]
    assert not leaked, f"{what}: refused, and yet the page says {leaked}"


def _check_headers(response: HttpResponse, what: str) -> None:
    """On every answer, refused ones too. The names and values: OWASP HTTP Headers Cheat Sheet."""
    for name, value in HEADERS.items():
        assert response.headers.get(name) == value, f"{what}: {name} is {response.headers.get(name)!r}"
    policy = response.headers["Content-Security-Policy"]
    assert "unsafe" not in policy and "default-src 'self'" in policy, f"{what}: {policy}"
    for directive in ("object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"):
        assert directive in policy, f"{what}: without {directive}"
    if "text/html" in response.headers.get("Content-Type", ""):
        body = _body(response).lower()
        assert not INLINE.search(body), f"{what}: a script or style of the page itself would be refused"


def _check_person(
    scene: Scene, row: Row, name: str, person: str, method: str, expected: int, before: str
) -> None:
    """``before``: the digest of the scene, to which each try is rolled back."""
    what = f"{method.upper()} {name} as {person}"
    with transaction.atomic():
        client = _client(scene, row, person)
        written = _written()
        response = _send(client, scene, row, name, method)
        assert response.status_code == expected, f"{what}: {response.status_code}, expected {expected}"
        _check_headers(response, what)
        to_sign_in = response.status_code == 302 and "/sign-in" in response.headers.get("Location", "")
        if to_sign_in or response.status_code in REFUSED - {302}:
            # Comparing all tables is dear, and mostly nothing at all was written.
            is_as_before = _written() == written or _digest() == before
            _check_refusal(scene, person, response, is_as_before, what)
        transaction.set_rollback(True)


def test_every_route_is_in_the_table_and_has_a_name() -> None:
    names = list(_names(get_resolver().url_patterns))
    assert [name for name in names if name.endswith("None")] == []
    assert sorted(set(names) - set(ROUTES)) == [], "routes without a row in routes.py"
    assert sorted(set(ROUTES) - set(names)) == [], "rows of routes.py without a route"


@pytest.mark.parametrize("name", sorted(ROUTES))
def test_each_row_says_what_everybody_gets(name: str) -> None:
    methods = ROUTES[name].methods()
    assert methods, "a row needs at least one method"
    for given in methods.values():
        assert sorted(given) == sorted(NAMES)


@pytest.mark.parametrize("name", sorted(ROUTES))
def test_route_for_the_whole_cast(name: str) -> None:
    row, scene = ROUTES[name], make_scene()
    row.prepare(scene)
    methods: dict[str, Statuses] = row.methods()
    before = _digest()
    for method, expected in methods.items():
        for person in NAMES:
            _check_person(scene, row, name, person, method, expected[person], before)


@pytest.mark.parametrize("name", sorted(ROUTES))
def test_a_method_outside_the_row_changes_nothing(name: str) -> None:
    row, scene = ROUTES[name], make_scene()
    row.prepare(scene)
    before = _digest()
    for method in {"get", "post"} - set(row.methods()):
        for person in ("anonymous", "student", "coach", "organiser"):
            client = _client(scene, row, person)
            written = _written()
            response = _send(client, scene, row, name, method)
            what = f"{method.upper()} {name} as {person}"
            assert response.status_code in REFUSED, f"{what}: {response.status_code}, but it has no row"
            assert _written() == written or _digest() == before, (
                f"{what}: has no row, and yet something changed"
            )
