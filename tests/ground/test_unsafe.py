"""Settings that must not meet the world are refused, the embedded and the scaled default are not."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from django.core.checks.registry import registry

from coachhub.common.unsafe import check_combinations, unsafe

pytestmark = pytest.mark.unit
POSTGRES = {"default": {"ENGINE": "django.db.backends.postgresql"}}
SQLITE = {"default": {"ENGINE": "django.db.backends.sqlite3"}}
EMBEDDED = {
    "DATABASES": SQLITE,
    "CELERY_BROKER_URL": "filesystem://localhost",
    "HTTPS_ONLY": False,
    "DEBUG": False,
}
SCALED = {
    "DATABASES": POSTGRES,
    "CELERY_BROKER_URL": "redis://broker:6379/0",
    "HTTPS_ONLY": True,
    "SITE_URL": "https://camp.example",
    "SECRET_KEY": "given" * 12,
    "DEBUG": False,
}


@pytest.fixture
def codes(tmp_path):
    """Codes of what is refused under some settings, in a folder whose own key is `made-here`."""
    (tmp_path / "secret.key").write_text("made-here")

    def ask(**given: object) -> list[str]:
        defaults = {"VAR_DIR": tmp_path, "SITE_URL": "http://127.0.0.1:8000", "SECRET_KEY": "made-here"}
        return [code for code, _, _ in unsafe(SimpleNamespace(**defaults | given))]

    return ask


def test_the_framework_asks_before_deployment_only():
    assert check_combinations in registry.get_checks(include_deployment_checks=True)
    assert check_combinations not in registry.get_checks()


def test_the_defaults_pass(codes):
    assert codes(**EMBEDDED) == []


def test_a_complete_scaled_form_passes(codes):
    assert codes(**SCALED) == []


@pytest.mark.parametrize(
    "change, code",
    [
        ({"DEBUG": True}, "E001"),
        ({"HTTPS_ONLY": False}, "E002"),
        ({"SITE_URL": "http://camp.example"}, "E003"),
        ({"SECRET_KEY": "made-here"}, "E004"),
        ({"DATABASES": SQLITE}, "E005"),
    ],
)
def test_each_unsafe_change_is_refused(codes, change, code):
    assert codes(**SCALED | change) == [code]
