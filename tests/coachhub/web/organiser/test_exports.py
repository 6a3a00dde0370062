from __future__ import annotations

from datetime import datetime

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from coachhub.progress.domain.participation import participation
from tests.cast import Cast
from tests.coachhub.web.organiser.files import answered_camp, book, sheet_of, table

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def cast(client: Client, db: None) -> Cast:
    return answered_camp(client)


def test_participation(client: Client, cast: Cast) -> None:
    rows = {row["e-mail"]: row for row in table(client, cast, "participation")}
    assert set(rows) == {cast.student.email, cast.cohort_mate.email, ""}
    assert (rows[""]["name"], rows[""]["write to"]) == ("Mika Minor", "the guardian")
    mine = rows[cast.student.email]
    assert (mine["name"], mine["sent"], mine["answered"]) == ("'=HYPERLINK(1)", "1", "1")
    # 09:30 UTC in the camp's zone, Tokyo.
    assert mine["last sent"] == "2026-06-10 18:30+09:00"


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_minors_address_is_in_no_file(client: Client, cast: Cast, kind: str) -> None:
    answer = client.get(reverse(f"organiser:participation-{kind}", args=[cast.camp.public_id]))
    words = answer.content.decode("utf-8-sig") if kind == "csv" else str(sheet_of(answer.content))
    assert cast.student.email in words and "Mika Minor" in words
    assert cast.minor.email not in words and cast.guardian.email not in words


def test_the_workbook_holds_what_the_domain_says(client: Client, cast: Cast) -> None:
    rows = book(client, cast, "participation")
    domain = participation(cast.camp, [cast.cohort, cast.other_cohort], now=timezone.now())
    assert [(row["name"], row["sent"], row["answered"]) for row in rows] == [
        (one.name, one.sent, one.answered) for one in domain
    ]
    mine = next(row for row in rows if row["e-mail"] == cast.student.email)
    # A name is a name; numbers are numbers, and a time is the clock on the wall in Tokyo.
    assert mine["name"] == "=HYPERLINK(1)"
    assert mine["last sent"] == datetime(2026, 6, 10, 18, 30)
    signs = book(client, cast, "signs")
    assert {(row["sign"], row["state"], row["camp week"]) for row in signs} == {
        ("sway", "confirmed", 2),
        ("slide", "cant tell", 2),
    }
    assert {row["range day"] for row in signs} == {datetime(2026, 6, 9)}


def test_both_kinds_say_the_same(client: Client, cast: Cast) -> None:
    for name in ("participation", "turnaround", "signs"):
        lines, rows = table(client, cast, name), book(client, cast, name)
        assert len(lines) == len(rows) > 0
        assert [list(line) for line in lines] == [list(row) for row in rows]


def test_turnaround(client: Client, cast: Cast) -> None:
    (row,) = table(client, cast, "turnaround")
    assert (row["student"], row["coach"], row["late"]) == ("'=HYPERLINK(1)", "Ines Coach", "no")
    assert row["hours on the clock"] == "0.0"


def test_signs(client: Client, cast: Cast) -> None:
    rows = table(client, cast, "signs")
    assert {(row["sign"], row["state"]) for row in rows} == {("sway", "confirmed"), ("slide", "cant tell")}
    assert {row["camp week"] for row in rows} == {"2"}
