"""The settings as they are in the world, asked by the framework's own deployment checks."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from coachhub.bootstrap import layout

pytestmark = pytest.mark.unit

SHOW = """
import django
from django.conf import settings
from django.core.checks import run_checks
django.setup()
print(sorted(m.id for m in run_checks(include_deployment_checks=True) if m.id.startswith("security.")))
print(settings.SESSION_COOKIE_SECURE, settings.CSRF_COOKIE_SECURE, settings.SECURE_HSTS_SECONDS)
print(settings.SESSION_COOKIE_HTTPONLY, settings.SESSION_COOKIE_SAMESITE)
"""


def told(tmp_path: object, **given: str) -> list[str]:
    env = os.environ | {"COACHHUB_VAR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "coachhub.settings"} | given
    done = subprocess.run(
        [sys.executable, "-c", SHOW], cwd=layout.ROOT, env=env, capture_output=True, text=True, check=True
    )
    return done.stdout.splitlines()


def test_behind_https_the_framework_finds_nothing_to_warn_of(tmp_path: object) -> None:
    """https://docs.djangoproject.com/en/5.2/ref/checks/#security: W004, W008, W012, W016 and their like."""
    assert told(tmp_path, COACHHUB_HTTPS="1") == ["[]", "True True 31536000", "True Lax"]


def test_on_ones_own_machine_only_https_is_missing(tmp_path: object) -> None:
    """W004 HSTS, W008 redirect, W012 session cookie, W016 form cookie."""
    names, cookies, session = told(tmp_path, COACHHUB_HTTPS="0")
    assert names == str([f"security.W{number}" for number in ("004", "008", "012", "016")])
    assert (cookies, session) == ("False False 0", "True Lax")
