"""The description against the behaviour: Schemathesis calls every operation with what the description allows."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
import schemathesis
from django.core.wsgi import get_wsgi_application
from django.test import Client
from django.utils import timezone
from hypothesis import HealthCheck, Phase, given, settings

from coachhub.accounts.domain.tokens import make_token
from tests.coachhub.web.scene import Scene, make_scene

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def described(db: None) -> Any:
    return schemathesis.openapi.from_wsgi("/api/v1/openapi.json", get_wsgi_application())


@pytest.fixture
def scene(db: None) -> Scene:
    return make_scene()


@pytest.fixture
def key(scene: Scene) -> str:
    person = scene.cast.student
    return make_token(person, name="tests", days=30, may_write=True, by=person, now=timezone.now())[1]


QUICK = settings(
    max_examples=15,
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
    database=None,
)


def test_every_operation_answers_as_described(described: Any, key: str) -> None:
    """Invented parameters and bodies: no crash, no undescribed status, no body of another shape."""
    calls: Counter[str] = Counter()
    for found in described.get_all_operations():
        operation = found.ok()

        @QUICK
        @given(case=operation.as_strategy())
        def answers(case: Any) -> None:
            case.call_and_validate(headers={"Authorization": f"Bearer {key}"})
            calls[f"{case.method} {case.path}"] += 1

        answers()
    print("\nOpenAPI calls:", dict(calls))
    assert len(calls) == 12 and min(calls.values()) >= 1


def test_found_things_answer_as_described(described: Any, scene: Scene, key: str) -> None:
    """With ids that exist, so that the good answers are checked against the description too."""
    swing = scene.answered.clips.get().swings.get()
    known = {
        "camp_id": scene.cast.camp.public_id,
        "submission_id": scene.answered.public_id,
        "swing_id": swing.public_id,
        "thread_id": scene.thread.public_id,
    }
    good = 0
    for found in described.get_all_operations():
        operation = found.ok()
        if operation.method.upper() != "GET" or "cohort_id" in operation.path:
            continue
        names = [one.name for one in operation.path_parameters]
        case = operation.Case(path_parameters={name: str(known[name]) for name in names})
        response = case.call_and_validate(headers={"Authorization": f"Bearer {key}"})
        assert response.status_code == 200, f"{operation.path}: {response.status_code}"
        good += 1
    assert good >= 9


def test_the_description_is_openapi_3_1(scene: Scene) -> None:
    body = Client().get("/api/v1/openapi.json").json()
    assert body["openapi"].startswith("3.1.")
    assert body["components"]["securitySchemes"]
    for path, methods in body["paths"].items():
        for method, call in methods.items():
            assert call["summary"] and call["operationId"] and call["security"], f"{method} {path}"
            assert {"401", "422"} <= set(call["responses"]), f"{method} {path}"


def test_the_guide_shows_every_operation(scene: Scene) -> None:
    page = Client().get("/api/").content.decode()
    for path in Client().get("/api/v1/openapi.json").json()["paths"]:
        assert path in page
