from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from coachhub.accounts.domain.tokens import make_token
from coachhub.accounts.models import User
from tests.coachhub.web.scene import Scene, make_scene

Reader = Callable[..., Client]


@pytest.fixture
def scene(db: None) -> Scene:
    return make_scene()


@pytest.fixture
def as_person() -> Reader:
    """A client with a key of the person, and no cookie."""

    def client(person: User, may_write: bool = False) -> Client:
        made = make_token(person, name="tests", days=30, may_write=may_write, by=person, now=timezone.now())
        return Client(headers={"Authorization": f"Bearer {made[1]}"})

    return client


@pytest.fixture
def get(as_person: Reader) -> Callable[[User, str], Any]:
    def ask(person: User, path: str) -> Any:
        return as_person(person).get(f"/api/v1{path}")

    return ask
