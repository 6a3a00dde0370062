"""The log says everything that is recorded in words, never by its code."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from django.conf import settings

from coachhub.web.organiser.audit_words import VERBS

pytestmark = [pytest.mark.unit]


def recorded() -> set[str]:
    """The codes that the code hands to ``record``, as they stand in its source."""
    found = set()
    for path in (Path(settings.BASE_DIR) / "coachhub").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "record" and node.args:
                first = node.args[0]
                if isinstance(first, ast.Constant) and isinstance(first.value, str):
                    found.add(first.value)
    return found


def test_everything_that_is_recorded_has_words() -> None:
    codes = recorded()
    assert len(codes) > 60
    assert codes - VERBS.keys() == set()
