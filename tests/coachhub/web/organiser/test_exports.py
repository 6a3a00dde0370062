from __future__ import annotations

import csv
import io

import pytest
from django.test import Client
from django.urls import reverse

from coachhub.accounts.models import User
from coachhub.feedback.enums import ReviewState
from coachhub.swings.models import SignJudgement
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def cast(client: Client, db: None) -> Cast:
    cast = make_cast()
    client.force_login(cast.organiser)
    submission = factories.make_submission(cast.student, cast.cohort)
    factories.make_review(submission, state=ReviewState.PUBLISHED, published_at=NOW, published_by=cast.coach)
    swing = factories.make_swing(
        factories.make_clip(submission), signs={"sway": "likely", "slide": "cant_tell"}
    )
    SignJudgement.objects.create(swing=swing, sign="sway", verdict="agree", by=cast.coach, created_at=NOW)
    User.objects.filter(pk=cast.student.pk).update(name="=HYPERLINK(1)")
    return cast


def table(client: Client, cast: Cast, name: str) -> list[dict[str, str]]:
    answer = client.get(reverse(f"organiser:{name}-csv", args=[cast.camp.public_id]))
    assert answer.headers["Content-Type"] == "text/csv; charset=utf-8"
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{name}.csv"'
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


def test_participation(client: Client, cast: Cast) -> None:
    rows = {row["e-mail"]: row for row in table(client, cast, "participation")}
    assert set(rows) == {cast.student.email, cast.cohort_mate.email, cast.minor.email}
    mine = rows[cast.student.email]
    assert (mine["name"], mine["sent"], mine["answered"]) == ("'=HYPERLINK(1)", "1", "1")
    # 09:30 UTC in the camp's zone, Tokyo.
    assert mine["last sent"] == "2026-06-10 18:30+09:00"


def test_turnaround(client: Client, cast: Cast) -> None:
    (row,) = table(client, cast, "turnaround")
    assert (row["student"], row["coach"], row["late"]) == ("'=HYPERLINK(1)", "Ines Coach", "no")
    assert row["hours on the clock"] == "0.0"


def test_signs(client: Client, cast: Cast) -> None:
    rows = table(client, cast, "signs")
    assert {(row["sign"], row["state"]) for row in rows} == {("sway", "confirmed"), ("slide", "cant tell")}
    assert {row["camp week"] for row in rows} == {"2"}
