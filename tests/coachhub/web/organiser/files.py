"""A camp with one answered submission, and its tables read back."""

from __future__ import annotations

import csv
import io
from typing import Any

from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook

from coachhub.accounts.models import User
from coachhub.feedback.enums import ReviewState
from coachhub.swings.models import SignJudgement
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW


def answered_camp(client: Client) -> Cast:
    """Signed in as its organiser; the student's name is one that a spreadsheet would run."""
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


def sheet_of(content: bytes) -> list[tuple[Any, ...]]:
    return list(load_workbook(io.BytesIO(content)).active.values)


def book(client: Client, cast: Cast, name: str) -> list[dict[str, Any]]:
    answer = client.get(reverse(f"organiser:{name}-xlsx", args=[cast.camp.public_id]))
    assert answer.headers["Content-Type"].endswith("spreadsheetml.sheet")
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{name}.xlsx"'
    heading, *rows = sheet_of(answer.content)
    return [dict(zip(heading, row, strict=True)) for row in rows]
