"""What people agreed to before consents had rows of their own is carried over, each in the own voice."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from coachhub.bootstrap import layout

OF_THE_SCALED_FORM = ("DATABASE_URL", "BROKER_URL", "S3_", "MEDIA_ACCEL")
pytestmark = [pytest.mark.unit]

# In a process and a database of its own: the tables go back to how they were before.
SCRIPT = """
import django
django.setup()
from datetime import UTC, datetime
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

def at(name):
    executor = MigrationExecutor(connection)
    executor.migrate([("accounts", name)])
    return MigrationExecutor(connection).loader.project_state([("accounts", name)]).apps

old = at("0005_doors")
User, Intake = old.get_model("accounts", "User"), old.get_model("accounts", "Intake")
def answer(user, day, cohort):
    Intake.objects.create(
        user=user, created_at=datetime(2026, 6, day, tzinfo=UTC), age_band="40_59", handedness="right",
        level="high", agrees_analysis=True, agrees_feedback=True, agrees_cohort=cohort,
    )
now = datetime(2026, 6, 1, tzinfo=UTC)
yes, no, never = (
    User.objects.create(email=f"{name}@example.org", name=name, created_at=now) for name in ("yes", "no", "never")
)
answer(yes, 1, False)
answer(yes, 2, True)
answer(no, 1, True)
answer(no, 2, False)
new = at("0008_consents_left_intakes")
Consent, Standing = new.get_model("accounts", "Consent"), new.get_model("accounts", "StandingConsent")
for user in (yes, no, never):
    rows = Consent.objects.filter(person_id=user.pk, by_id=user.pk, is_given=True, voice="self")
    stands = Standing.objects.filter(person_id=user.pk)
    print(user.name, sorted(rows.values_list("purpose", flat=True)), sorted(stands.values_list("purpose", flat=True)))
print([field.name for field in new.get_model("accounts", "Intake")._meta.fields if "agrees" in field.name])
"""


def test_the_newest_answers_become_consents(tmp_path: Path) -> None:
    env = {name: value for name, value in os.environ.items() if not name.startswith(OF_THE_SCALED_FORM)}
    env |= {"COACHHUB_VAR": str(tmp_path / "var"), "DJANGO_SETTINGS_MODULE": "coachhub.settings"}
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT], cwd=layout.ROOT, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-4:] == [
        "yes ['analysis', 'cohort', 'feedback'] ['analysis', 'cohort', 'feedback']",
        "no ['analysis', 'feedback'] ['analysis', 'feedback']",
        "never [] []",
        "[]",
    ]
